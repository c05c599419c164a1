package num

import "sync"

// Cache remembers values that are dear to make and never change, by their key: tables of a law, say. At most Limit
// are held; then all are forgotten. Safe for use from several goroutines; two that ask at once may both make the value.
type Cache[K comparable, V any] struct {
	Limit int // 0 takes keptLimit
	mu    sync.Mutex
	m     map[K]V
}

const keptLimit = 64

// Get returns the value of a key, made if it is not there.
func (k *Cache[K, V]) Get(key K, make func() V) V {
	k.mu.Lock()
	v, ok := k.m[key]
	k.mu.Unlock()
	if ok {
		return v
	}
	v = make()
	k.mu.Lock()
	defer k.mu.Unlock()
	limit := k.Limit
	if limit == 0 {
		limit = keptLimit
	}
	if k.m == nil || len(k.m) >= limit {
		k.m = map[K]V{}
	}
	k.m[key] = v
	return v
}
