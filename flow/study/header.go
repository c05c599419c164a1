package study

import (
	"fmt"
	"runtime/debug"

	"meltload/flow/casefile"
	"meltload/flow/match"
	"meltload/flow/quantity"
	"meltload/flow/setup"
	"meltload/materials"
)

// Version is stamped into every result.
var Version = "0.2.0"

// revision is set by the linker where the build does not look at the repository itself: see .ci/binaries.
var revision string

// Revision is the revision of the source the program was built from, where the build knows it; else "".
func Revision() string {
	if revision != "" {
		return revision
	}
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return ""
	}
	return revisionOf(info.Settings)
}

// revisionOf is the revision by what a build notes of itself.
func revisionOf(settings []debug.BuildSetting) string {
	rev, changed := "", ""
	for _, s := range settings {
		switch {
		case s.Key == "vcs.revision" && len(s.Value) >= 12:
			rev = s.Value[:12]
		case s.Key == "vcs.modified" && s.Value == "true":
			changed = ", changed since"
		}
	}
	if rev == "" {
		return ""
	}
	return rev + changed
}

// Stamp is the version with the revision, where it is known.
func Stamp() string {
	if r := Revision(); r != "" {
		return Version + " (" + r + ")"
	}
	return Version
}

// Header is what every result carries, whatever the command: what was answered, and what it takes to trust and to
// repeat it.
type Header struct {
	Version  string              `json:"version"`
	Command  []string            `json:"command"`
	Title    string              `json:"title"`
	Sentence string              `json:"sentence"` // the verdict
	Good     bool                `json:"good"`
	Warnings []materials.Warning `json:"warnings"`
	Cautions []string            `json:"cautions"`
	Files    []File              `json:"files"`
	Area     *float64            `                          q:"filament_area"` // nil without a case
	Solver   string              `json:"solver,omitempty"`
	Samples  int                 `json:"samples,omitempty"`
	Seed     uint64              `json:"seed,omitempty"`
	Uses     []Use               `json:"uses,omitempty"`
	Inputs   []casefile.Input    `json:"inputs,omitempty"`
	Material *MaterialTable      `json:"material,omitempty"`
}

// File is an input file and the hash of its text (SHA-256, first 12 hex digits).
type File struct {
	Name string `json:"name"`
	Hash string `json:"hash,omitempty"`
}

// Use is how much of one limit is used: 1 is all of it.
type Use struct {
	Of    string  `json:"of"`
	Share float64 `            q:"share"`
	Text  string  `json:"text"`
}

// MaterialTable shows the material with the origin of every value.
type MaterialTable struct {
	ID         string             `json:"id"`
	Name       string             `json:"name"`
	Confidence string             `json:"confidence"`
	Window     [2]float64         `                  q:"window"`
	Hazard     string             `json:"hazard"`
	Drying     string             `json:"drying"`
	Factor     float64            `                  q:"viscosity_factor"`
	Origins    []materials.Origin `json:"values"`
	Sources    map[string]string  `json:"sources"`
}

// headerOf starts the header of a result about a set-up.
func headerOf(s *setup.Setup, title string) Header {
	m := s.Material
	return Header{Version: Version, Title: title, Good: true, Cautions: cautions(s), Area: quantity.Known(s.Area()),
		Material: &MaterialTable{ID: m.ID, Name: m.Name, Confidence: m.Confidence, Window: m.Window, Hazard: m.Hazard,
			Drying: m.Drying, Factor: 1, Origins: m.Origins, Sources: m.Sources}}
}

// From notes in a result where its set-up comes from: name and hash of the case file and of those that it names, its
// inputs, the remarks on them, and the factor that a melt flow rate puts on the viscosity law. A result of a set-up
// made in Go has none of these.
func (h *Header) From(c *casefile.Case) {
	files := []File{{c.File, c.Hash}}
	for _, f := range c.Refs {
		files = append(files, File{f.File, f.Hash})
	}
	h.Files = append(files, h.Files...)
	h.Inputs = c.Inputs
	h.Warnings = materials.AddWarning(append([]materials.Warning(nil), c.Notes...), h.Warnings...)
	if h.Material != nil {
		h.Material.Factor = c.RateFactor
	}
}

// warn adds a warning, once.
func (h *Header) warn(code, format string, a ...any) {
	h.add(materials.Warning{Code: code, Message: fmt.Sprintf(format, a...)})
}

// add takes warnings over, each once.
func (h *Header) add(ws ...materials.Warning) { h.Warnings = materials.AddWarning(h.Warnings, ws...) }

// Cautions are shown with every result.
var Cautions = []string{
	"Hot melt under pressure burns: keep hands and face away from the nozzle, wear gloves and eye protection, and " +
		"let the force fall to zero before opening anything.",
	"Fumes: ventilate or extract; follow the safety data sheet of the filament. Never run PVC, and never mix acetal " +
		"with PVC.",
	"The push force also acts on the hot end's mount and on every part between feeder and nozzle; a strong feeder on " +
		"a jam can push the hot end out.",
	"Gears and belts pinch; a motor run above its rated current can burn at a touch. Leave heater alarms and guards " +
		"on.",
	"This is a calculation with stated uncertainty, not a safety certificate. Local codes and licensed practice come " +
		"first.",
}

func cautions(s *setup.Setup) []string {
	return append([]string{s.Material.Name + ": " + s.Material.Hazard + "; " + s.Material.Drying + "."}, Cautions...)
}

// usesOf turns the margin of each limit into the share of it that is used: a margin is capacity over demand minus one.
func usesOf(ms []match.Margin) []Use {
	var out []Use
	for _, m := range ms {
		text := m.Limit.Use()
		if text == "" { // not a matter of flow
			continue
		}
		u := Use{Of: string(m.Limit), Text: text}
		if m.Warns {
			u.Text += "; warns only"
		}
		if m.Value > -1 {
			u.Share = 1 / (1 + m.Value)
		}
		out = append(out, u)
	}
	return out
}
