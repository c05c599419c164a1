package cli

import (
	"bytes"
	"encoding/csv"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"

	"meltload/flow/quantity"
	"meltload/flow/study"
	"meltload/materials/checks"
)

// Every result keeps to its published schema, and every CSV of it is one header row of names and plain, unrounded
// cells.
func TestResultsKeepToTheirSchema(t *testing.T) {
	for _, k := range study.Kinds() {
		t.Run(k.Command, func(t *testing.T) {
			text, err := jsonschema.UnmarshalJSON(strings.NewReader(mustRun(t, "schema", k.Command)))
			if err != nil {
				t.Fatal(err)
			}
			c := jsonschema.NewCompiler()
			if err := c.AddResource("result.json", text); err != nil {
				t.Fatal(err)
			}
			schema, err := c.Compile("result.json")
			if err != nil {
				t.Fatal(err)
			}
			g := once(t, k.Command)
			b, err := os.ReadFile(g.json)
			if err != nil {
				t.Fatal(err)
			}
			result, err := jsonschema.UnmarshalJSON(bytes.NewReader(b))
			if err != nil {
				t.Fatal(err)
			}
			if err := schema.Validate(result); err != nil {
				t.Errorf("%v", err)
			}
			files, _ := filepath.Glob(filepath.Join(g.csv, "*.csv"))
			if len(files) == 0 {
				t.Error("no tables")
			}
			for _, f := range files {
				checkCSV(t, f)
			}
		})
	}
}

// The schema of case files is printed as one that compiles, and the starter case keeps to it.
func TestCaseSchemaIsPrinted(t *testing.T) {
	text, err := jsonschema.UnmarshalJSON(strings.NewReader(mustRun(t, "schema", "case")))
	if err != nil {
		t.Fatal(err)
	}
	c := jsonschema.NewCompiler()
	if err := c.AddResource("case.json", text); err != nil {
		t.Fatal(err)
	}
	if _, err := c.Compile("case.json"); err != nil {
		t.Fatal(err)
	}
	if p := text.(map[string]any)["properties"].(map[string]any); p["hot_end"] == nil || p["feeder"] == nil {
		t.Errorf("%v", p)
	}
}

var csvName = regexp.MustCompile(`^[a-z0-9_.+-]+[A-Za-z0-9_]*$`)

func checkCSV(t *testing.T, file string) {
	f, err := os.Open(file)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatalf("%s: %v", file, err)
	}
	seen := map[string]bool{}
	for _, h := range rows[0] {
		if !csvName.MatchString(h) || seen[h] {
			t.Errorf("%s: column %q", file, h)
		}
		seen[h] = true
	}
	for _, r := range rows[1:] {
		for j, x := range r {
			_, err := strconv.ParseFloat(x, 64)
			if err != nil && x != "" && x != "+" && strings.ContainsRune("=+-@", rune(x[0])) ||
				strings.HasSuffix(x, "%") || x == "–" || x == "NaN" {
				t.Errorf("%s: %s is %q", file, rows[0][j], x)
			}
		}
	}
}

// The names in the page on results are names of results.
func TestNamesInThePageOnResults(t *testing.T) {
	b, err := os.ReadFile(checks.Root("report", "docs", "results.md"))
	if err != nil {
		t.Fatal(err)
	}
	known := map[string]bool{}
	for _, q := range quantity.All() {
		known[q.Key()] = true
	}
	found := regexp.MustCompile("[\"`]([a-z0-9_]+_(?:N|degC|mm3_s|MPa|mm_s|kgf))[\"`]").FindAllStringSubmatch(
		string(b), -1)
	for _, m := range found {
		if !known[m[1]] {
			t.Errorf("the page on results speaks of %s; no quantity has that name", m[1])
		}
	}
	if len(found) < 8 {
		t.Errorf("only %d names found", len(found))
	}
}
