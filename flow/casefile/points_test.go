package casefile

import (
	"strings"
	"testing"

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
