package cli

import (
	"context"
	"fmt"
	"os"
	"strings"
	"testing"

	"meltload/flow/casefile"
	"meltload/flow/quantity"
	"meltload/flow/study"
)

// A folder of cases gives a row for each; with a journal the same command goes on where it was, does what changed anew,
// and a journal of something else is left alone.
func TestFolderOfCases(t *testing.T) {
	t.Chdir(t.TempDir())
	write := func(name, text string) {
		t.Helper()
		if err := os.WriteFile(name, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	hot := func(block int) string {
		return strings.Replace(string(casefile.BuiltIn), "block_degC = 215", fmt.Sprintf("block_degC = %d", block), 1)
	}
	if err := os.Mkdir("cases", 0o755); err != nil {
		t.Fatal(err)
	}
	write("cases/a.toml", hot(205))
	write("cases/b.toml", hot(225))
	write("cases/part.toml", "[feeder]\n[[feeder.point]]\nspeed_mm_s = 2\nforce_N = 40\n")
	assess := func(args ...string) (int, *study.Briefs, string) {
		t.Helper()
		os.Remove("r.json")
		code, _, errs := run(append([]string{"assess", "cases", "--samples", "16", "--json", "r.json", "--quiet"},
			args...)...)
		b, err := os.ReadFile("r.json")
		if err != nil {
			return code, nil, errs
		}
		var r study.Briefs
		if err := quantity.Decode(b, &r); err != nil {
			t.Fatal(err)
		}
		return code, &r, errs
	}
	code, first, errs := assess("--journal", "done.jsonl")
	if code != OK || len(first.Cases) != 2 || first.Kept != 0 || !strings.Contains(first.Sentence, "1 file") {
		t.Fatalf("code %d, %s, %+v", code, errs, first)
	}
	_, again, _ := assess("--journal", "done.jsonl")
	if again.Kept != 2 || *again.Cases[1].Usable != *first.Cases[1].Usable ||
		*again.Cases[1].Held != *first.Cases[1].Held {
		t.Errorf("%d kept, %+v", again.Kept, again.Cases)
	}
	write("cases/b.toml", hot(215))
	write("cases/c.toml", "nothing = 1\n")
	code, third, errs := assess("--journal", "done.jsonl")
	if code != BadUse || third.Kept != 1 || len(third.Cases) != 3 || *third.Cases[1].Usable >= *first.Cases[1].Usable ||
		!strings.Contains(third.Cases[2].Problem, "found nothing") {
		t.Errorf("code %d, %s, %d kept, %+v", code, errs, third.Kept, third.Cases)
	}
	if _, other, _ := assess("--journal", "done.jsonl", "--set", "hot_end.heated_share=0.5"); other.Kept != 0 {
		t.Errorf("%d rows of another heated share are kept", other.Kept)
	}
	if code, _, errs := assess("--journal", "cases/a.toml", "--force"); code != BadUse ||
		!strings.Contains(errs, "another name") {
		t.Errorf("a case as journal: code %d, %s", code, errs)
	}
	if code, _, errs := run("assess", "cases/a.toml", "--journal", "x"); code != BadUse || errs == "" {
		t.Errorf("a journal of one case: code %d, %s", code, errs)
	}
}

// A run over a folder that is stopped says that its journal was kept.
func TestStoppedFolderKeepsItsJournal(t *testing.T) {
	t.Chdir(t.TempDir())
	for _, err := range []error{os.Mkdir("cases", 0o755), os.WriteFile("cases/a.toml", casefile.BuiltIn, 0o644)} {
		if err != nil {
			t.Fatal(err)
		}
	}
	ctx, stop := context.WithCancel(t.Context())
	stop()
	for _, c := range []struct {
		args []string
		want string
	}{
		{[]string{"assess", "cases", "--journal", "j"}, "what was done is kept in j: the same command goes on"},
		{[]string{"assess", "cases"}, "stopped; nothing was written"},
	} {
		var out, errs strings.Builder
		if code := Run(ctx, c.args, strings.NewReader(""), &out, &errs); code != Failure ||
			!strings.Contains(errs.String(), c.want) {
			t.Errorf("%v: code %d, %s", c.args, code, errs.String())
		}
	}
}
