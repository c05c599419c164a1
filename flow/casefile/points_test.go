package casefile

import (
	"math"
	"strings"
	"testing"

	"meltload/flow/feeder"
	"meltload/materials/unit"
)

func TestMergePoints(t *testing.T) {
	five := NewPoint{Flow: 5 * unit.MM3, Force: 73.3, SD: 1.2, Repeats: 2, Cause: "grind", Block: unit.Kelvin(143),
		Stock: "pla", From: "a.csv"}
	twenty := NewPoint{Flow: 20 * unit.MM3, Force: 65, Repeats: 1, Cause: "skip"}
	text, changes, err := MergePoints("f.toml", nil, []NewPoint{five, twenty}, 1.75e-3)
	if err != nil || len(changes) != 2 || strings.Count(string(text), "[[feeder.point]]") != 2 {
		t.Fatalf("%s %v %v", text, changes, err)
	}
	p, err := ParsePart("f.toml", text)
	if err != nil {
		t.Fatal(err)
	}
	f, _, err := p.Feeder(nil)
	if err != nil || len(f.Points) != 2 || f.Points[0].Force != 73.3 || f.Points[0].Repeats != 2 {
		t.Fatalf("%+v %v", f, err)
	}
	// A second measurement takes the place of the first; a remark, the name and the other point stay.
	old := strings.Replace(string(text), `name = "f"`, `name = "mine"`, 1) + "\n# my own words\n"
	five.Force = 80
	text, changes, err = MergePoints("f.toml", []byte(old), []NewPoint{five}, 1.75e-3)
	if err != nil || len(changes) != 1 || !strings.Contains(changes[0], "was 73.3 N") {
		t.Fatalf("%s %v %v", text, changes, err)
	}
	for _, want := range []string{"# my own words", `"mine"`, "force_N = 80", "force_N = 65"} {
		if !strings.Contains(string(text), want) {
			t.Errorf("no %q in\n%s", want, text)
		}
	}
	if strings.Contains(string(text), "73.3") {
		t.Errorf("the old point is still there:\n%s", text)
	}
	// Another polymer is another point.
	five.Stock = "tpu"
	if text, _, err = MergePoints("f.toml", text, []NewPoint{five}, 1.75e-3); err != nil ||
		strings.Count(string(text), "[[feeder.point]]") != 3 {
		t.Errorf("%s %v", text, err)
	}
	if _, _, err := MergePoints("f.toml", []byte("[hot_end]\nbogus = 1\n"), []NewPoint{five}, 1.75e-3); err == nil {
		t.Error("a bad file was taken")
	}
	if _, _, err := MergePoints("f.toml", nil, nil, 1.75e-3); err == nil {
		t.Error("nothing was written")
	}
}

// FuzzMergePoints: whatever the text that points go into, it comes back as a feeder with that point or is refused.
func FuzzMergePoints(f *testing.F) {
	f.Add([]byte("[feeder]\nname = \"b\"\n[[feeder.point]]\nflow_mm3_s = 5\nforce_N = 2\n"), 5.0, 40.0, "grind", "pla")
	f.Add([]byte("# empty"), 1e-3, 1e5, "", "")
	f.Add([]byte("[feeder.motor]\nholding_torque_Ncm = 40\n"), 20.0, 73.456, "skip", "a\"b")
	f.Fuzz(func(t *testing.T, old []byte, flow, force float64, cause, stock string) {
		p := NewPoint{Flow: flow * unit.MM3, Force: force, Repeats: 2, SD: force / 10, Cause: feeder.Cause(cause),
			Stock: stock, From: "log\n.csv"}
		text, changes, err := MergePoints("fuzz.toml", old, []NewPoint{p}, 1.75e-3)
		if err != nil {
			return
		}
		if len(changes) == 0 {
			t.Fatal("nothing is said of the point")
		}
		part, err := ParsePart("fuzz.toml", text)
		if err != nil {
			t.Fatalf("%v\n%s", err, text)
		}
		fd, _, err := part.Feeder(nil)
		if err != nil {
			return // a file of points that lacks other things
		}
		found := false
		for _, x := range append(fd.Points, fd.Unused...) {
			found = found || math.Abs(x.Speed*unit.Disc(1.75e-3)/(flow*unit.MM3)-1) < 1e-3
		}
		if !found {
			t.Fatalf("no point at %g mm3/s in\n%s", flow, text)
		}
	})
}
