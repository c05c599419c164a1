package cli

import (
	"fmt"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"meltload/flow/casefile"
	"meltload/flow/study"
	"meltload/materials"
	"meltload/materials/strict"
	"meltload/materials/unit"
	"meltload/report"
)

// surveyFlags are what a survey combines.
type surveyFlags struct {
	stocks, hotEnds  []string
	nozzles, blocks  []float64
	flow, printSpeed float64
	set              []string
}

func newSurvey() *cobra.Command {
	var out outputs
	var f surveyFlags
	c := &cobra.Command{
		Use:     "survey [case.toml]",
		GroupID: "answer",
		Short:   "Compare materials, nozzles, temperatures and hot ends, all combinations in one go",
		Long: `Survey finds the highest usable flow of every combination of materials, hot ends, nozzles and block
temperatures, what limits it, the print speed it allows, and force and pressure at the wanted flow. Everything
else is that of the case: feeder, filament size, path, limits. What is left out is not varied.

Lists are written 0.4,0.6,0.8 or 200:240:10, from, to and step. Nozzles differ in bore alone: land length and
cone angle stay those of the hot end. A hot end's file is one as a case names it with hot_end_file, or a case.
A material is a built-in one (meltload materials) or the file of a record. Without --block, another material
runs in the middle of its processing window.

The low end of the range is the usable flow with high viscosity, high entrance loss and a short heated length.
These three move the load most. The high end is the usable flow with all three the other way. The ends lie near
5 and 95 %. The unknowns are the same for all rows: rows whose ranges overlap may still differ for sure.
meltload assess samples one combination.`,
		Example: `  # the built-in case: three nozzles at five block temperatures
  meltload survey --nozzle 0.4,0.6,0.8 --block 200:240:10 --report survey.html

  # two materials on two hot ends, for a wanted print speed
  meltload survey my-bench.toml --material pla,petg --hot-end short.toml --hot-end long.toml --print-speed 200`,
		Args: args(cobra.MaximumNArgs(1)),
		RunE: func(c *cobra.Command, a []string) error {
			return f.run(c, a, &out)
		},
	}
	fs := c.Flags()
	fs.StringSliceVar(&f.stocks, "material", nil, "`names` of built-in materials or files of records, separated by "+
		"commas; may be given several times")
	fs.StringArrayVar(&f.hotEnds, "hot-end", nil, "a `file` with a hot end; may be given several times")
	listFlag(fs, &f.nozzles, "nozzle", nil, unit.Bound{Lo: 0.05, Hi: 5, Unit: "mm"}, "bores of the nozzle in %s")
	listFlag(fs, &f.blocks, "block", nil, unit.Bound{Lo: 50, Hi: 500, Unit: "degC"}, "block temperatures in %s")
	numberFlag(fs, &f.flow, "flow", 0, unit.Bound{Lo: 0.01, Hi: 1000, Unit: "mm3/s"},
		"wanted flow in %s instead of the case's")
	numberFlag(fs, &f.printSpeed, "print-speed", 0, unit.Bound{Lo: 0.1, Hi: 5000, Unit: "mm/s"},
		"wanted print speed in %s: each nozzle then has a flow of its own, layer height x line width x speed")
	fs.StringArrayVar(&f.set, "set", nil, "`key=value` for this run, a key of the case file and a number in its unit; "+
		"can be given several times")
	out.flags(fs)
	c.RegisterFlagCompletionFunc("material", cobra.FixedCompletions(materials.Names(),
		cobra.ShellCompDirectiveDefault))
	return c
}

func (f *surveyFlags) run(c *cobra.Command, a []string, out *outputs) error {
	if err := out.free(c, append(append([]string(nil), a...), f.hotEnds...)); err != nil {
		return err
	}
	if f.flow > 0 && f.printSpeed > 0 {
		return usageError{fmt.Errorf("--print-speed and --flow both say the wanted flow: give one of them")}
	}
	cs, err := load(c, a, &overrides{set: f.set})
	if err != nil {
		return err
	}
	job := study.SurveyJob{Base: &cs.Setup, Nozzles: scaled(f.nozzles, unit.MM), Flow: f.flow * unit.MM3,
		Speed: f.printSpeed * unit.MM}
	for _, t := range f.blocks {
		job.Blocks = append(job.Blocks, unit.Kelvin(t))
	}
	var records, refs []casefile.Ref
	if job.Materials, records, err = f.materials(c); err != nil {
		return err
	}
	if job.HotEnds, refs, err = f.ends(c, a); err != nil {
		return err
	}
	r, err := study.Survey(c.Context(), job, progress(c.ErrOrStderr(), "survey"))
	if err != nil {
		if c.Context().Err() == nil {
			return usageError{err}
		}
		return err
	}
	r.Command = commandLine(c, a)
	for _, x := range append(records, refs...) {
		r.Files = append(r.Files, study.File{Name: x.File, Hash: x.Hash})
	}
	r.From(cs)
	if err := out.emit(c, r, report.Survey(r)); err != nil {
		return err
	}
	if (r.Target != nil || r.Wanted != nil) && !r.Good {
		return errNotHeld
	}
	return nil
}

// materials reads the materials by name or by the file of a record; the files come with them.
func (f *surveyFlags) materials(c *cobra.Command) ([]*materials.Material, []casefile.Ref, error) {
	var out []*materials.Material
	var files []casefile.Ref
	var all strict.Problems
	bad := func(n, allowed, advice string) {
		all = append(all, strict.Problem{File: "--material", Seen: fmt.Sprintf("%q", n), Allowed: allowed,
			Advice: advice})
	}
	for _, n := range f.stocks {
		n = strings.TrimSpace(n)
		if strings.ContainsAny(n, `./\`) {
			src, err := deskOf(c).Read(n, strict.MaxText)
			if err != nil {
				bad(n, "a readable material record", err.Error())
				continue
			}
			m, ps := materials.Parse(n, src)
			all = append(all, ps...)
			out, files = append(out, m), append(files, casefile.Ref{File: n, Hash: casefile.Hash(src)})
			continue
		}
		m, err := materials.Get(n)
		if err != nil {
			advice := "choose one, or name the file of a record"
			if near := strict.Nearest(n, materials.Names()); near != "" {
				advice = fmt.Sprintf("did you mean %q?", near)
			}
			bad(n, strings.Join(materials.Names(), ", "), advice)
		}
		out = append(out, m)
	}
	return out, files, all.Err()
}

// ends reads the files of hot ends, each on the duty of the case.
func (f *surveyFlags) ends(c *cobra.Command, a []string) ([]study.Place, []casefile.Ref, error) {
	if len(f.hotEnds) == 0 {
		return nil, nil, nil
	}
	name, text := casefile.BuiltInName, casefile.BuiltIn
	if len(a) > 0 {
		b, err := readText(c, a[0])
		if err != nil {
			return nil, nil, err
		}
		name, text = shownName(a[0]), b
	}
	duty, err := casefile.ParsePart(name, text)
	if err != nil {
		return nil, nil, err
	}
	var out []study.Place
	var refs []casefile.Ref
	var all strict.Problems
	for _, file := range f.hotEnds {
		p, err := casefile.ReadPart(file)
		if err == nil && !p.HasHotEnd() {
			err = strict.Problems{{File: file, Seen: "no [hot_end]", Allowed: "a file with a hot end",
				Advice: "name another file"}}
		}
		var cs *casefile.Case
		if err == nil {
			cs, err = casefile.Join(duty, duty, p)
		}
		if ps, ok := err.(strict.Problems); ok {
			all = append(all, ps...)
			continue
		}
		if err != nil {
			return nil, nil, usageError{err}
		}
		for i, h := range out {
			if h.Name == p.HotEndName() {
				return nil, nil, usageError{fmt.Errorf("the hot ends of %s and %s are both called %q: name one of "+
					"them otherwise", f.hotEnds[i], filepath.Base(file), h.Name)}
			}
		}
		out, refs = append(out, study.Place{Name: p.HotEndName(), Setup: &cs.Setup}), append(refs, p.Refs()...)
	}
	return out, refs, all.Err()
}
