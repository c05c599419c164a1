package study

import (
	"fmt"
	"path/filepath"
	"slices"

	"meltload/flow/casefile"
	"meltload/materials/strict"
	"meltload/materials/unit"
)

// RankFiles are the files of a ranking.
type RankFiles struct {
	Feeders []string // cases, or files that hold only a feeder or only a hot end
	HotEnds []string // cases, or files that hold only a hot end; none for the hot ends of Feeders
	// the case whose filament, block temperature, path, limits and target count; "" for the first whole case
	Duty     string
	Material string // of a duty where no file is a whole case; "" for the polymer that all points name
}

// member is a feeder or a hot end with the file it comes from.
type member struct {
	name string
	part *casefile.Part
}

// Gather reads the files of a ranking. Files may be whole cases or hold only a feeder or only a hot end. The duty is
// that of Duty, else of
// the first whole case, else Material in casefile.DefaultFilament at the block temperature of each hot end. Errors: all
// that is
// wrong with the files; two different feeders or hot ends of one name; hot ends without a duty.
func Gather(files RankFiles) (*RankJob, error) {
	var all strict.Problems
	read := func(names []string) ([]*casefile.Part, error) {
		var out []*casefile.Part
		for _, n := range names {
			p, err := casefile.ReadPart(n)
			if ps, ok := err.(strict.Problems); ok {
				all = append(all, ps...)
			} else if err != nil {
				return nil, err
			} else {
				out = append(out, p)
			}
		}
		return out, nil
	}
	named, err := read(files.Feeders)
	if err != nil {
		return nil, err
	}
	hot, err := read(files.HotEnds)
	if err != nil {
		return nil, err
	}
	var duty *casefile.Part
	if files.Duty != "" {
		one, err := read([]string{files.Duty})
		if err != nil {
			return nil, err
		}
		if len(one) == 1 {
			duty = one[0]
			if _, err := duty.Build(); err != nil {
				return nil, err
			}
		}
	}
	if len(all) > 0 {
		return nil, all
	}
	from := hot
	if len(hot) == 0 {
		from = named
		// Feeders alone, and a duty by name: they go on its hot end, as after a calibration.
		if duty != nil && !slices.ContainsFunc(named, (*casefile.Part).HasHotEnd) {
			from = []*casefile.Part{duty}
		}
	}
	feeders, err := members(named, "feeder", (*casefile.Part).HasFeeder, (*casefile.Part).FeederName,
		(*casefile.Part).SameFeeder)
	if err != nil {
		return nil, err
	}
	ends, err := members(from, "hot end", (*casefile.Part).HasHotEnd, (*casefile.Part).HotEndName,
		(*casefile.Part).SameHotEnd)
	if err != nil {
		return nil, err
	}
	if len(feeders) == 0 {
		return nil, fmt.Errorf("study: no feeder in %v; name files with [feeder]", files.Feeders)
	}
	if len(hot) > 0 && len(ends) == 0 {
		return nil, fmt.Errorf("study: no hot end in %v; name files with [hot_end]", files.HotEnds)
	}
	for _, p := range append(append([]*casefile.Part(nil), named...), hot...) {
		if duty == nil && p.Whole() {
			duty = p
		}
	}
	if duty == nil && len(ends) > 0 {
		if duty, err = impliedDuty(files.Material, feeders); err != nil {
			return nil, err
		}
	}
	return gathered(duty, feeders, ends, append(append([]*casefile.Part(nil), named...), hot...))
}

// members are the parts that hold a thing, one of each name.
func members(parts []*casefile.Part, what string, has func(*casefile.Part) bool, name func(*casefile.Part) string,
	same func(p, q *casefile.Part) bool) ([]member, error) {
	var out []member
next:
	for _, p := range parts {
		if !has(p) {
			continue
		}
		for _, m := range out {
			if m.name == name(p) {
				if !same(m.part, p) {
					return nil, fmt.Errorf("study: two different %ss are called %q, in %s and %s; give one of them "+
						"another name", what, m.name, m.part.File, p.File)
				}
				continue next
			}
		}
		out = append(out, member{name(p), p})
	}
	return out, nil
}

// impliedDuty is the duty where no file is a whole case.
func impliedDuty(material string, feeders []member) (*casefile.Part, error) {
	if material == "" {
		for i, f := range feeders {
			own := f.part.Polymer()
			if own == "" {
				own = f.part.OfPoints()
			}
			if i > 0 && own != material {
				own = ""
			}
			if material = own; own == "" {
				break
			}
		}
	}
	if material == "" {
		return nil, fmt.Errorf("study: usable flow needs a duty, and none of the files is a whole case: name one " +
			"with --duty, or the polymer with --material")
	}
	return casefile.Duty(material, 0, 0)
}

// gathered joins what was read into a job.
func gathered(duty *casefile.Part, feeders, ends []member, parts []*casefile.Part) (*RankJob, error) {
	job := &RankJob{Header: bareHeader("Ranking of feeders")}
	var all strict.Problems
	joined := func(f, h *casefile.Part) (*casefile.Case, error) {
		c, err := casefile.Join(duty, f, h)
		if ps, ok := err.(strict.Problems); ok {
			all = append(all, ps...)
			return nil, nil
		}
		return c, err
	}
	for i, f := range feeders {
		r := Rival{Name: f.name}
		if len(ends) > 0 {
			c, err := joined(f.part, ends[0].part)
			if err != nil {
				return nil, err
			}
			if c == nil {
				continue
			}
			if r.Setup, r.Feeder = &c.Setup, c.Feeder; i == 0 {
				job.Header, job.Duty = dutyHeader(c), &c.Setup
				job.Samples, job.Seed = c.Samples, c.Seed
			}
			job.Header.add(c.Notes...)
		} else {
			f, notes, err := f.part.Feeder(duty)
			if ps, ok := err.(strict.Problems); ok {
				all = append(all, ps...)
				continue
			}
			if err != nil {
				return nil, err
			}
			r.Feeder = f
			job.Header.add(notes...)
		}
		job.Feeders = append(job.Feeders, r)
	}
	for _, h := range ends {
		c, err := joined(feeders[0].part, h.part)
		if err != nil {
			return nil, err
		}
		if c != nil {
			job.HotEnds = append(job.HotEnds, Place{h.name, &c.Setup})
			job.Header.add(c.Notes...)
		}
	}
	if len(all) > 0 {
		return nil, dedupe(all)
	}
	job.files(duty, parts)
	return job, nil
}

// files lists what went in, and warns of other polymers.
func (job *RankJob) files(duty *casefile.Part, parts []*casefile.Part) {
	seen := map[string]bool{}
	if duty != nil {
		parts = append([]*casefile.Part{duty}, parts...)
	}
	for _, p := range parts {
		for _, f := range p.Refs() {
			if !seen[f.File] && f.File != casefile.OptionDuty {
				seen[f.File] = true
				job.Header.Files = append(job.Header.Files, File{f.File, f.Hash})
			}
		}
		if duty != nil && p.Polymer() != "" && p.Polymer() != duty.Polymer() {
			job.Header.warn("other-duty", "%s names %s; all are compared on %s, the duty of %s", filepath.Base(p.File),
				p.Polymer(), job.Duty.Material.Name, filepath.Base(duty.File))
		}
	}
	if duty != nil && duty.File == casefile.OptionDuty {
		job.Header.warn("implied-duty", "no file is a whole case: the duty is %s filament of %.3g mm with what else a "+
			"case assumes; name a case with --duty to change "+
			"it", job.Duty.Material.Name, job.Duty.Filament.Diameter/unit.MM)
	}
}

// dedupe drops problems that came twice, since a file is joined more than once.
func dedupe(ps strict.Problems) strict.Problems {
	var out strict.Problems
	seen := map[strict.Problem]bool{}
	for _, p := range ps {
		if !seen[p] {
			seen[p] = true
			out = append(out, p)
		}
	}
	return out
}
