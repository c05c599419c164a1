// Package licences holds the licence texts of everything that is in the program: a binary is whole with its licences.
// A test holds them against what is linked, and gathers them anew with -update.
package licences

import (
	"embed"
	"fmt"
	"io"
	"io/fs"
	"strings"

	"meltload/report"
)

//go:embed texts
var texts embed.FS

// list are the licence files by what they belong to, in alphabetical order: texts/LIBRARY/FILE, a slash of the
// library's path written as an exclamation mark.
func list() (map[string][]string, []string, error) {
	by := map[string][]string{}
	var names []string
	err := fs.WalkDir(texts, "texts", func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		name := strings.ReplaceAll(strings.Split(path, "/")[1], "!", "/")
		if by[name] == nil {
			names = append(names, name)
		}
		by[name] = append(by[name], path)
		return nil
	})
	return by, names, err
}

// inBrowser are the libraries that are in the solver for browsers, which a live report holds: a test holds them against
// what is linked.
var inBrowser = []string{"meltload", "go", "github.com/go-echarts/go-echarts/v2", "github.com/pelletier/go-toml/v2",
	"github.com/valyala/bytebufferpool", "github.com/valyala/quicktemplate", "golang.org/x/text", "golang.org/x/tools",
	"gonum.org/v1/gonum"}

// InBrowser are the licences of what is in the solver for browsers.
func InBrowser() (string, error) {
	by, _, err := list()
	if err != nil {
		return "", err
	}
	var b strings.Builder
	for _, name := range inBrowser {
		for _, path := range by[name] {
			text, err := texts.ReadFile(path)
			if err != nil {
				return "", err
			}
			fmt.Fprintf(&b, "%s\n\n%s\n\n\n", name, strings.TrimSpace(string(text)))
		}
	}
	return b.String(), nil
}

// Write writes every licence: the program's own first, then the libraries', then that of the chart script.
func Write(w io.Writer) error {
	by, names, err := list()
	if err != nil {
		return err
	}
	const own = "meltload"
	var b strings.Builder
	head := func(s string) { fmt.Fprintf(&b, "%s\n%s\n\n", s, strings.Repeat("=", len(s))) }
	put := func(name, title string) error {
		head(title)
		for _, path := range by[name] {
			text, err := texts.ReadFile(path)
			if err != nil {
				return err
			}
			fmt.Fprintf(&b, "%s\n\n", strings.TrimSpace(string(text)))
		}
		return nil
	}
	if err := put(own, own); err != nil {
		return err
	}
	for _, n := range names {
		if n == own {
			continue
		}
		if err := put(n, "In this program: "+n); err != nil {
			return err
		}
	}
	assets := report.PageAssets()
	head("In this program and in its reports: Apache ECharts")
	fmt.Fprintf(&b, "%s\n\n%s\n", strings.TrimSpace(assets.Notice), strings.TrimSpace(assets.Terms))
	_, err = io.WriteString(w, b.String())
	return err
}
