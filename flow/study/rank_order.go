package study

import (
	"fmt"
	"sort"
	"strings"

	"meltload/flow/quantity"
)

// order is one way to sort the tables of a ranking.
type order struct {
	key, doc string
	// force and pair are the numbers of a row that are ranked, the highest first; nil where the table is ranked as
	// without an order.
	force, pair func(f *ForceRow, e *Entry) *float64
	phrase      string // "holds the most force"
	quantity    string // of the number of force
	// sort is a number or a name that only sorts, the lowest first: ranks stay those of force and flow.
	sort func(f *ForceRow, e *Entry) (number *float64, name string)
}

var orders = []order{
	{key: "force", doc: "force held at each speed", force: func(f *ForceRow, _ *Entry) *float64 { return &f.Force },
		phrase: "holds the most force", quantity: "capability"},
	{key: "force-per-mass", doc: "force per 100 g of feeder",
		force:  func(f *ForceRow, _ *Entry) *float64 { return f.PerMass },
		phrase: "holds the most force per 100 g of feeder", quantity: "force_per_100_g_feeder"},
	{key: "force-per-system", doc: "force per 100 g of feeder and hot end",
		force:  func(f *ForceRow, _ *Entry) *float64 { return f.PerSystem },
		phrase: "holds the most force per 100 g of feeder and hot end", quantity: "force_per_100_g_system"},
	{key: "force-per-cost", doc: "force per cost of the feeder",
		force:  func(f *ForceRow, _ *Entry) *float64 { return f.PerCost },
		phrase: "holds the most force for its cost", quantity: "force_per_cost"},
	{key: "flow", doc: "usable flow of each pair", pair: func(_ *ForceRow, e *Entry) *float64 { return &e.Flow }},
	{key: "flow-per-mass", doc: "usable flow per 100 g of feeder and hot end",
		pair: func(_ *ForceRow, e *Entry) *float64 { return e.PerMass }},
	{key: "flow-per-cost", doc: "usable flow per cost of feeder and hot end",
		pair: func(_ *ForceRow, e *Entry) *float64 { return e.PerCost }},
	{key: "mass", doc: "mass, the lightest first", sort: func(f *ForceRow, e *Entry) (*float64, string) {
		if f != nil {
			return f.Mass, ""
		}
		return e.Mass, ""
	}},
	{key: "cost", doc: "cost, the lowest first", sort: func(f *ForceRow, e *Entry) (*float64, string) {
		if f != nil {
			return f.Cost, ""
		}
		return e.Cost, ""
	}},
	{key: "cause", doc: "cause of failure, or limit of a pair", sort: func(f *ForceRow, e *Entry) (*float64, string) {
		if f != nil {
			return nil, f.Cause
		}
		return nil, e.Limit
	}},
	{key: "name", doc: "name", sort: func(f *ForceRow, e *Entry) (*float64, string) {
		if f != nil {
			return nil, f.Feeder
		}
		return nil, e.Pair
	}},
}

// Orders lists what a ranking can be sorted by, with what each means.
func Orders() (keys, docs []string) {
	for _, o := range orders {
		keys, docs = append(keys, o.key), append(docs, o.doc)
	}
	return keys, docs
}

func orderOf(key string) (order, error) {
	if key == "" {
		key = orders[0].key
	}
	for _, o := range orders {
		if o.key == key {
			return o, nil
		}
	}
	keys, _ := Orders()
	return order{}, fmt.Errorf("study: no order %q; there are %s", key, strings.Join(keys, ", "))
}

// named finds an order that is in the table.
func named(key string) order {
	o, err := orderOf(key)
	if err != nil {
		panic(err)
	}
	return o
}

func sortBy[T any](list []T, less func(a, b T) bool) {
	sort.SliceStable(list, func(i, j int) bool { return less(list[i], list[j]) })
}

// order ranks and sorts every table, and says who is first. The sentence is taken from the tables as they stand, so
// that it
// cannot contradict them.
func (r *Ranking) order(by order) {
	force, pair := by, by
	if by.force == nil {
		force = named("force")
	}
	if by.pair == nil {
		pair = named("flow")
	}
	var said []string
	for i := range r.Forces {
		t := &r.Forces[i]
		rankForces(t.Rows, force)
		t.Best = firstByForce(t, force)
		if len(t.Rows) > 1 && (i == 0 || i == len(r.Forces)-1) {
			said = append(said, t.Best)
		}
		if by.sort != nil {
			sorted(t.Rows, func(f *ForceRow) (*float64, string) { return by.sort(f, nil) })
		}
	}
	if len(r.Entries) > 0 {
		rankPairs(r.Entries, pair)
		said = append(said, firstByFlow(r.Entries, pair))
		if by.sort != nil {
			sorted(r.Entries, func(e *Entry) (*float64, string) { return by.sort(nil, e) })
		}
	}
	r.Sentence = strings.Join(said, " ")
}

// sorted sorts by a number or a name, the lowest first; what is not known comes last.
func sorted[T any](rows []T, of func(x *T) (*float64, string)) {
	sort.SliceStable(rows, func(i, j int) bool {
		a, x := of(&rows[i])
		b, y := of(&rows[j])
		switch {
		case a == nil && b == nil:
			return x < y
		case a == nil || b == nil:
			return a != nil
		}
		return *a < *b
	})
}

// rankRows sorts rows by a number, the highest first, and gives those that cannot be told apart from the first of their
// rank that rank.
// What is not known comes last, as one rank.
func rankRows[T any](rows []T, of func(x *T) *float64, apart func(lead, x *T) bool,
	set func(x *T, rank int, tied bool)) {
	sort.SliceStable(rows, func(i, j int) bool {
		a, b := of(&rows[i]), of(&rows[j])
		if a == nil || b == nil {
			return a != nil
		}
		return *a > *b
	})
	lead, rank := 0, 1
	for i := range rows {
		x := &rows[i]
		known, leads := of(x) != nil, of(&rows[lead]) != nil
		if i > 0 && (known != leads || known && apart(&rows[lead], x)) {
			lead, rank = i, i+1
		}
		set(x, rank, false)
		if lead < i {
			set(&rows[lead], rank, true)
			set(x, rank, true)
		}
	}
}

// rankForces: feeders whose intervals overlap are tied.
func rankForces(rows []ForceRow, by order) {
	of := func(f *ForceRow) *float64 { return by.force(f, nil) }
	rankRows(rows, of, func(lead, x *ForceRow) bool {
		return *of(lead)*lead.Low/lead.Force > *of(x)*x.High/x.Force
	}, func(f *ForceRow, rank int, tied bool) { f.Rank, f.Tied = rank, tied })
}

// rankPairs: pairs that beat each other in less than tieShare of the draws are tied.
func rankPairs(rows []Entry, by order) {
	of := func(e *Entry) *float64 { return by.pair(nil, e) }
	per := func(e *Entry) float64 { // what turns a flow into the number that is ranked
		if e.Flow == 0 {
			return 1
		}
		return *of(e) / e.Flow
	}
	rankRows(rows, of, func(lead, x *Entry) bool {
		n, a, b := 0.0, per(lead), per(x)
		for i := range lead.samples {
			if a*lead.samples[i] > b*x.samples[i] {
				n++
			}
		}
		return n/float64(len(lead.samples)) >= tieShare
	}, func(e *Entry, rank int, tied bool) { e.Rank, e.Tied = rank, tied })
}

// firstByForce says who is first at a speed.
func firstByForce(t *ForceTable, by order) string {
	at := "At " + quantity.Text("test_speed", t.Speed) + " of filament "
	q := quantity.Of(by.quantity)
	first := &t.Rows[0]
	x := by.force(first, nil)
	switch {
	case x == nil:
		return at + "no feeder can be ranked by " + by.doc + ": mass or cost is not given."
	case len(t.Rows) > 1 && by.force(&t.Rows[1], nil) == nil:
		return fmt.Sprintf("%sonly %s can be ranked by %s: %s; mass or cost of the others is not given.", at,
			first.Feeder, strings.TrimSuffix(by.doc, " at each speed"), q.Text(*x))
	case first.Tied:
		var names []string
		for i := range t.Rows {
			if t.Rows[i].Rank == 1 {
				names = append(names, t.Rows[i].Feeder)
			}
		}
		return fmt.Sprintf("%s%s cannot be told apart by %s: up to %s.", at, listed(names),
			strings.TrimSuffix(by.doc, " at each speed"), q.Text(*x))
	}
	return fmt.Sprintf("%s%s %s: %s (%s to %s).", at, first.Feeder, by.phrase, q.Text(*x),
		q.Number(*x*first.Low/first.Force), q.Number(*x*first.High/first.Force))
}

// listed names up to three and counts the rest.
func listed(names []string) string {
	if len(names) > 3 {
		return fmt.Sprintf("%s and %d more", strings.Join(names[:2], ", "), len(names)-2)
	}
	if len(names) == 1 {
		return names[0]
	}
	return strings.Join(names[:len(names)-1], ", ") + " and " + names[len(names)-1]
}

// firstByFlow says which pair is first.
func firstByFlow(rows []Entry, by order) string {
	first, q := &rows[0], quantity.Of("usable_flow")
	if by.pair(nil, first) == nil {
		return "No pair can be ranked by " + by.doc + ": mass or cost is not given."
	}
	if len(rows) > 1 && by.pair(nil, &rows[1]) == nil {
		return fmt.Sprintf("Only %s can be ranked by %s: mass or cost of the others is not given.", first.Pair, by.doc)
	}
	what := ""
	if by.key != "flow" {
		what = "by " + by.doc + " "
	}
	if first.Tied {
		n := 0
		top := first
		for i := range rows {
			if rows[i].Rank == 1 {
				n++
				if rows[i].Flow > top.Flow {
					top = &rows[i]
				}
			}
		}
		return fmt.Sprintf("%d pairs share the first place%s: their usable flows, up to %s (likely range %s to %s), "+
			"cannot be told apart.",
			n, strings.TrimRight(" "+what, " "), q.Text(top.Flow), q.Number(top.Low), q.Number(top.High))
	}
	return fmt.Sprintf("%s comes first %swith a usable flow of %s (likely range %s to %s), limited by %s, next by %s.",
		first.Pair, what, q.Text(first.Flow), q.Number(first.Low), q.Number(first.High), orNoLimit(first.Limit),
		orNoLimit(first.Next))
}

func orNoLimit(s string) string {
	if s == "" {
		return "nothing within the search"
	}
	return s
}
