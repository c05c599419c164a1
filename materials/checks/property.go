package checks

import (
	"flag"
	"strconv"
	"sync"
	"testing"
	"time"

	"pgregory.net/rapid"
)

// shrinkTime bounds the search for a smaller input after a property has failed: one that takes long to compute must not
// cost minutes to report.
const shrinkTime = 10 * time.Second

var propertyLock sync.Mutex // the settings of rapid are the program's

// Property holds a property on n drawn inputs, where one takes too long for the usual hundred. RAPID_CHECKS or
// -rapid.checks, and RAPID_SHRINKTIME or -rapid.shrinktime, go before what is said here.
func Property(t *testing.T, n int, f func(*rapid.T)) {
	t.Helper()
	propertyLock.Lock()
	defer propertyLock.Unlock()
	defer unlessSet(t, "rapid.checks", "100", strconv.Itoa(n))()
	defer unlessSet(t, "rapid.shrinktime", "30s", shrinkTime.String())()
	rapid.Check(t, f)
}

// unlessSet sets a flag that has its usual value, and gives what puts the old value back.
func unlessSet(t *testing.T, name, usual, value string) func() {
	f := flag.Lookup(name)
	if f == nil {
		t.Fatalf("there is no flag -%s", name)
	}
	was := f.Value.String()
	if was != usual {
		return func() {}
	}
	if err := f.Value.Set(value); err != nil {
		t.Fatal(err)
	}
	return func() { f.Value.Set(was) }
}
