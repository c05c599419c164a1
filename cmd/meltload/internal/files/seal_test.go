package files

import (
	"strings"
	"testing"
)

// A seal holds as long as nothing of the text changed; sealing a sealed text gives one seal.
func TestSeal(t *testing.T) {
	same := Sealed("x").Same
	for _, text := range []string{"", "a = 1\n", "a = 1", "# b\r\na = 1\r\n"} {
		once := Seal([]byte(text))
		twice := Seal(once)
		if string(once) != string(twice) || strings.Count(string(twice), sealHead) != 1 {
			t.Errorf("%q: %q, then %q", text, once, twice)
		}
		if !same(strings.NewReader(string(once))) {
			t.Errorf("%q: its own seal does not hold", text)
		}
		for _, changed := range []string{"b" + string(once), string(once) + "\n", string(once) + "c = 2\n",
			strings.TrimSuffix(string(once), "\n"), text} {
			if same(strings.NewReader(changed)) {
				t.Errorf("the seal holds for %q", changed)
			}
		}
	}
}
