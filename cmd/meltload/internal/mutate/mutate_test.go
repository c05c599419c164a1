package main

import (
	"context"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

func write(t *testing.T, dir string, files map[string]string) {
	t.Helper()
	for name, text := range files {
		path := filepath.Join(dir, name)
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
}

// A function that makes a first guess has no faults that count; one beside it has.
func TestFirstGuessesAreLeftOut(t *testing.T) {
	const src = "package p\n\n// g makes the first guess of a root.\nfunc g(a float64) float64 { return 2 * a }\n\n" +
		"// h is no guess.\nfunc h(a float64) float64 { return -a }\n"
	fs, err := faults("p.go", []byte(src))
	if err != nil || len(fs) != 1 || !strings.HasSuffix(string(fs[0].apply([]byte(src))), "{ return a }\n") {
		t.Errorf("%+v, %v", fs, err)
	}
}

// Every kind of fault, as the source reads with it.
func TestFaultsOfALine(t *testing.T) {
	for _, x := range []struct {
		line string
		want []string
	}{
		{"y = a + b", []string{"y = a - b", "y = a"}},
		{"y = a / 2.5", []string{"y = a * 2.5", "y = a", "y = a / 3.0"}},
		{"y += a", []string{"y -= a", "_ = a"}},
		{"y = -a", []string{"y = a"}},
		{"y = math.Max(a, b)", []string{"y = math.Min(a, b)"}},
		{"y = float64(max(3, n))", []string{"y = float64(min(3, n))", "y = float64(max(4, n))"}},
		{"if a < b && n == 1 { y = a }", []string{
			"if a >= b && n == 1 { y = a }", "if a < b || n == 1 { y = a }", "if a < b { y = a }",
			"if a < b && n != 1 { y = a }",
			"if a < b && n == 2 { y = a }", "if !(a < b && n == 1) { y = a }"}},
		{`s = "a" + "b"`, nil},
		{`s = fmt.Sprintf("%g", a+b)`, nil},
		{"n++", []string{"n--"}},
		{"y = 0.0", []string{"y = 1.0"}},
		{"y = q{Digits: 3, Low: 2}", []string{"y = q{Digits: 3, Low: 3}"}},
		{"y, err = num.Root(f, 1, 2, 1e-9)", []string{"y, err = num.Root(f, 2, 2, 1e-9)",
			"y, err = num.Root(f, 1, 3, 1e-9)"}},
		{"return 1, err", nil}, {"return 1, fmt.Errorf(a)", nil}, {"return 1, nil", []string{"return 2, nil"}},
		{"for range 60 { y = 1 }", []string{"for range 60 { y = 2 }"}},
		{"for range 8 { y() }", []string{"for range 9 { y() }"}},
		{"x := make([]int, 0, n+1)", nil}, {"y = 2 * a // first guess", nil}, {"y = math.Inf(1)", nil},
		{"if math.Abs(d) < 1e-9*a { break }", []string{"if !(math.Abs(d) < 1e-9*a) { break }"}},
	} {
		head := "package p\n\nfunc f() {\n\t"
		src := []byte(head + x.line + "\n}\n")
		fs, err := faults("p.go", src)
		if err != nil {
			t.Fatal(err)
		}
		var got []string
		for _, f := range fs {
			text := string(f.apply(src))
			got = append(got, strings.TrimSuffix(strings.TrimPrefix(text, head), "\n}\n"))
			if f.line != 4 || f.what == "" {
				t.Errorf("%s: line %d, %q", x.line, f.line, f.what)
			}
		}
		slices.Sort(got)
		slices.Sort(x.want)
		if !slices.Equal(got, x.want) {
			t.Errorf("%s:\n got %q\nwant %q", x.line, got, x.want)
		}
	}
}

func TestTheSameSeedDrawsTheSame(t *testing.T) {
	var all []fault
	for i := range 50 {
		all = append(all, fault{start: i})
	}
	fit := func(fault) bool { return true }
	draw := func(seed uint64) []fault { return sample(all, 10, rand.New(rand.NewPCG(seed, 1)), fit) }
	if a, b := draw(3), draw(3); !slices.Equal(a, b) || len(a) != 10 {
		t.Errorf("%v and %v of one seed", a, b)
	}
	if slices.Equal(draw(3), draw(4)) {
		t.Error("two seeds draw the same")
	}
	if got := sample(all, 1000, rand.New(rand.NewPCG(1, 1)), fit); len(got) != 50 {
		t.Errorf("%d of 50", len(got))
	}
}

// A module of two packages: what its own test misses, the test of the package that uses it finds; what neither looks at
// is missed.
func TestRunOnASmallModule(t *testing.T) {
	if testing.Short() {
		t.Skip("builds and runs tests 20 times")
	}
	dir := t.TempDir()
	write(t, dir, map[string]string{
		"go.mod": "module small\n\ngo 1.24\n",
		"a/a.go": "package a\n\n// Sum adds.\nfunc Sum(x, y int) int { return x + y }\n\n// Twice " +
			"doubles.\nfunc Twice(x int) int { return x * 2 }\n\n// Idle is not tested.\nfunc Idle(x int) int { " +
			"return x - 7 }\n",
		"a/a_test.go": "package a\n\nimport \"testing\"\n\nfunc TestSum(t *testing.T) {\n\tif Sum(2, 3) != 5 " +
			"{\n\t\tt.Fail()\n\t}\n}\n",
		"b/b.go": "package b\n\nimport \"small/a\"\n\n// Four quadruples.\nfunc Four(x int) int { return " +
			"a.Twice(a.Twice(x)) }\n",
		"b/b_test.go": "package b\n\nimport \"testing\"\n\nfunc TestFour(t *testing.T) {\n\tif Four(3) != 12 " +
			"{\n\t\tt.Fail()\n\t}\n}\n",
	})
	var out strings.Builder
	if err := command(context.Background(), []string{"-root", dir, "-n", "100", "small/a"}, &out); err != nil {
		t.Fatal(err)
	}
	// x + y: turned, dropped. x * 2: turned, dropped, 3. x - 7: turned, dropped, 8.
	if want := "| `small/a` | 8 | 8 | 2 | 3 | 3 | 62 % |"; !strings.Contains(out.String(), want) {
		t.Errorf("got\n%s\nwant %s", out.String(), want)
	}
	for _, want := range []string{"missed a/a.go:10: - to +", "missed a/a.go:10: dropped: - 7",
		"missed a/a.go:10: 7 to 8"} {
		if !strings.Contains(out.String(), want) {
			t.Errorf("got\n%s\nwant %s", out.String(), want)
		}
	}
	if src, _ := os.ReadFile(filepath.Join(dir, "a/a.go")); !strings.Contains(string(src), "x + y") {
		t.Error("the tree itself was changed")
	}
	if err := command(context.Background(), []string{"-root", dir, "small/c"}, &out); err == nil {
		t.Error("a package that is not there was taken")
	}
}
