// Package strict reads TOML into tagged structs and reports everything that is
// wrong with a file in one run: syntax, unknown keys with the nearest known
// one, wrong types, values out of range, and missing keys, each with file,
// line, field, the value seen and what is allowed.
//
// Field tags:
//
//	toml:"key"     the key (fields without it are ignored)
//	min, max       inclusive bounds for numbers and for the members of arrays
//	above          exclusive lower bound
//	zero:"yes"     0 is allowed too, outside of the bounds: it stands for none
//	enum:"a b c"   allowed strings, separated by blanks
//	need:"yes"     the key must be present
//	len:"2"        exact length of an array
//	unit, doc      shown in messages and in the list of keys (casefile.Keys)
package strict

import (
	"bytes"
	"fmt"
	"math"
	"reflect"
	"regexp"
	"slices"
	"sort"
	"strconv"
	"strings"

	"github.com/pelletier/go-toml/v2"
	"github.com/pelletier/go-toml/v2/unstable"

	"meltload/materials/unit"
)

// Problem is one thing wrong with an input file.
type Problem struct {
	File    string
	Line    int    // 1-based; 0 if the problem is with the file as a whole
	Field   string // dotted path; array members are counted from 1
	Seen    string // the value met, as text
	Allowed string // what would be right
	Advice  string // what to do
}

func (p Problem) Error() string {
	var b strings.Builder
	b.WriteString(p.File) // "" for a set-up made in Go
	if p.Line > 0 {
		fmt.Fprintf(&b, ":%d", p.Line)
	}
	if b.Len() > 0 {
		b.WriteString(": ")
	}
	if p.Field != "" {
		b.WriteString(p.Field + ": ")
	}
	if p.Seen != "" {
		fmt.Fprintf(&b, "found %s", p.Seen)
	}
	if p.Allowed != "" {
		if p.Seen != "" {
			b.WriteString("; ")
		}
		fmt.Fprintf(&b, "allowed: %s", p.Allowed)
	}
	if p.Advice != "" {
		if p.Seen != "" || p.Allowed != "" {
			b.WriteString("; ")
		}
		b.WriteString(p.Advice)
	}
	return b.String()
}

// Problems is a list of problems, usable as an error.
type Problems []Problem

// Error lists the problems, one a line; of more than MaxShown the others are counted.
func (ps Problems) Error() string {
	shown := min(len(ps), MaxShown)
	s := make([]string, shown, shown+1)
	for i, p := range ps[:shown] {
		s[i] = p.Error()
	}
	if n := len(ps) - shown; n > 0 {
		s = append(s, fmt.Sprintf("... and %d more", n))
	}
	return strings.Join(s, "\n")
}

// Err returns ps as an error, nil if it is empty.
func (ps Problems) Err() error {
	if len(ps) == 0 {
		return nil
	}
	return ps
}

// Add appends the problem of a field that is in no file.
func (ps *Problems) Add(field, seen, allowed, advice string) {
	*ps = append(*ps, Problem{Field: field, Seen: seen, Allowed: allowed, Advice: advice})
}

// Within asks for a number from lo to hi in a unit, adds a problem if it is none, and tells whether it is one.
func (ps *Problems) Within(field string, x, lo, hi float64, in, advice string) bool {
	if unit.Within(x, lo, hi) {
		return true
	}
	ps.Add(field, fmt.Sprintf("%.6g", x), fmt.Sprintf("%g to %g %s", lo, hi, in), advice)
	return false
}

// Sort orders the problems by line.
func (ps Problems) Sort() {
	sort.SliceStable(ps, func(i, j int) bool { return ps[i].Line < ps[j].Line })
}

// Doc knows where in its file each key stands.
type Doc struct {
	File  string
	Whole bool // the destination holds all that is right in the text
	lines map[string]int
	taken map[int]bool // lines whose remark calls the value assumed
	base  *Doc         // looked up where this one has nothing; see Over
}

// Line returns the line of a dotted path, or of its nearest parent, or 0.
func (d *Doc) Line(path string) int {
	for {
		if l, ok := d.lines[path]; ok {
			return l
		}
		i := strings.LastIndexAny(path, ".[")
		if i < 0 {
			return 0
		}
		path = path[:i]
	}
}

// Has tells whether the file, or one laid under it, gives the key at this path.
func (d *Doc) Has(path string) bool {
	if _, ok := d.lines[path]; ok {
		return true
	}
	return d.base != nil && !d.hides(path) && d.base.Has(path)
}

// Problem makes a Problem at a path of the document, in the file that gives it.
func (d *Doc) Problem(path, seen, allowed, advice string) Problem {
	h := d.home(path)
	return Problem{File: h.File, Line: h.Line(path), Field: path, Seen: seen, Allowed: allowed, Advice: advice}
}

// Decode reads src into dst, a pointer to a tagged struct whose present values are the defaults. It returns the
// document's positions for cross-field checks and every problem found; dst is filled with what is right, so that a
// caller can look further in the same run. Of a text that is not TOML nothing is.
func Decode(file string, src []byte, dst any) (*Doc, Problems) {
	doc := &Doc{File: file, lines: map[string]int{}}
	src = Plain(src)
	if why := notText(src); why != "" {
		return doc,
			Problems{{File: file, Seen: why, Allowed: "text, UTF-8 or UTF-16 with its mark",
				Advice: "save the file as UTF-8"}}
	}
	if p := tooMuch(file, src); p != nil {
		return doc, Problems{*p}
	}
	var tree map[string]any
	if err := toml.Unmarshal(src, &tree); err != nil {
		p := Problem{File: file, Seen: "text that is not TOML",
			Advice: strings.TrimPrefix(strings.Replace(err.Error(), "strconv.ParseFloat: parsing ", "", 1), "toml: ")}
		if de, ok := err.(*toml.DecodeError); ok {
			p.Line, _ = de.Position()
			if k := de.Key(); len(k) > 0 {
				p.Field = strings.Join(k, ".")
			}
			if commas := decimalCommas(file, src, p.Line); len(commas) > 0 {
				return doc, commas
			}
		}
		return doc, Problems{p}
	}
	doc.index(src)
	c := checker{doc: doc}
	c.table("", reflect.ValueOf(tree), reflect.TypeOf(dst).Elem())
	doc.Whole = true
	if len(c.found) > 0 { // the tree without what was found wrong
		var err error
		if src, err = toml.Marshal(tree); err != nil {
			doc.Whole = false
		}
	}
	err := fill(src, dst)
	if err != nil { // a whole number written as 0xD7 is no float to the decoder: the tree has it as 215
		if src, err = toml.Marshal(tree); err == nil {
			err = fill(src, dst)
		}
	}
	if err != nil {
		doc.Whole = false
		if len(c.found) == 0 {
			c.found = append(c.found, Problem{File: file, Advice: err.Error()})
		}
	}
	c.found.Sort()
	return doc, c.found
}

// commaLine is a line that gives a key a number with a decimal comma.
var commaLine = regexp.MustCompile(`^\s*([\w."'-]+)\s*=\s*([-+]?\d+,\d+(?:[eE][-+]?\d+)?)\s*(?:#.*)?$`)

// decimalCommas reports every number with a decimal comma in a text that is no TOML for the one on this line; nil if
// there is none on it.
func decimalCommas(file string, src []byte, line int) (out Problems) {
	here := false
	for i, l := range strings.Split(string(src), "\n") {
		if m := commaLine.FindStringSubmatch(strings.TrimSuffix(l, "\r")); m != nil {
			here = here || i+1 == line
			out = append(out, Problem{File: file, Line: i + 1, Field: m[1], Seen: m[2] + ", a decimal comma",
				Allowed: "numbers with a decimal point", Advice: "write " + strings.Replace(m[2], ",", ".", 1)})
		}
	}
	if !here {
		return nil
	}
	return out
}

func fill(src []byte, dst any) error {
	return toml.NewDecoder(bytes.NewReader(src)).DisallowUnknownFields().Decode(dst)
}

// tooMuch refuses what is longer or deeper than any case or record, before time goes into it; nil if it is not.
func tooMuch(file string, src []byte) *Problem {
	over := func(line int, seen string, limit int) *Problem {
		return &Problem{File: file, Line: line, Seen: seen, Allowed: fmt.Sprintf("at most %d", limit),
			Advice: "check that this is the file you mean"}
	}
	if len(src) > MaxText {
		return over(0, fmt.Sprintf("%d bytes", len(src)), MaxText)
	}
	if line := nesting(src); line > 0 {
		return over(line, fmt.Sprintf("arrays or tables more than %d deep", MaxDepth), MaxDepth)
	}
	var p unstable.Parser
	p.Reset(src)
	for n := 1; p.NextExpression(); n++ {
		e := p.Expression()
		parts, begins := 0, -1
		for it := e.Key(); it.Next(); parts++ {
			if begins < 0 {
				begins = int(it.Node().Raw.Offset)
			}
		}
		if parts <= MaxDepth && n <= MaxKeys {
			continue
		}
		line := bytes.Count(src[:max(begins, 0)], []byte("\n")) + 1
		if parts > MaxDepth {
			return over(line, fmt.Sprintf("a key of %d parts", parts), MaxDepth)
		}
		if n > MaxKeys {
			return over(line, fmt.Sprintf("more than %d keys and tables", MaxKeys), MaxKeys)
		}
	}
	return nil
}

// nesting returns the line on which brackets outside of texts and remarks stand more than MaxDepth deep; 0 for none.
func nesting(src []byte) int {
	line, depth := 1, 0
	quote := byte(0)
	for i := 0; i < len(src); i++ {
		switch c := src[i]; {
		case c == '\n':
			line++
			quote = 0 // texts of several lines are not in use; a bracket in one counts
		case quote == '"' && c == '\\':
			i++
		case quote != 0:
			if c == quote {
				quote = 0
			}
		case c == '"' || c == '\'':
			quote = c
		case c == '#':
			for i+1 < len(src) && src[i+1] != '\n' {
				i++
			}
		case c == '[' || c == '{':
			if depth++; depth > MaxDepth {
				return line
			}
		case c == ']' || c == '}':
			depth--
		}
	}
	return 0
}

// ends are the offsets of the line ends of a text. The parser's own way to a line reads the text from its beginning for
// every key.
type ends []int

func endsOf(src []byte) ends {
	var e ends
	for i, c := range src {
		if c == '\n' {
			e = append(e, i)
		}
	}
	return e
}

// of is the line of an offset, counted from 1.
func (e ends) of(offset uint32) int { return sort.SearchInts(e, int(offset)) + 1 }

// index records the line of every key. The source is known to parse.
func (d *Doc) index(src []byte) {
	d.taken = map[int]bool{}
	for i, l := range strings.Split(string(src), "\n") {
		if strings.Contains(l, "assumed") && Assumed(l) {
			d.taken[i+1] = true
		}
	}
	at := endsOf(src)
	var p unstable.Parser
	p.Reset(src)
	count := map[string]int{}
	prefix := ""
	put := func(path string, n *unstable.Node) {
		if _, ok := d.lines[path]; !ok {
			d.lines[path] = at.of(n.Raw.Offset)
		}
	}
	var value func(path string, n *unstable.Node)
	key := func(base string, n *unstable.Node) (string, *unstable.Node) {
		path, last := base, n
		for it := n.Key(); it.Next(); {
			last = it.Node()
			path = join(path, string(last.Data))
			if c, ok := count[path]; ok && last.Next() != nil {
				path = fmt.Sprintf("%s[%d]", path, c)
			}
		}
		return path, last
	}
	value = func(path string, n *unstable.Node) {
		i := 0
		for it := n.Children(); it.Next(); {
			child := it.Node()
			switch {
			case n.Kind == unstable.InlineTable && child.Kind == unstable.KeyValue:
				q, at := key(path, child)
				put(q, at)
				value(q, child.Value())
			case n.Kind == unstable.Array:
				i++
				value(fmt.Sprintf("%s[%d]", path, i), child)
			}
		}
	}
	for p.NextExpression() {
		e := p.Expression()
		switch e.Kind {
		case unstable.Table:
			path, at := key("", e)
			prefix = path
			put(path, at)
		case unstable.ArrayTable:
			path, at := key("", e)
			count[path]++
			prefix = fmt.Sprintf("%s[%d]", path, count[path])
			put(path, at)
			put(prefix, at)
		case unstable.KeyValue:
			path, at := key(prefix, e)
			put(path, at)
			value(path, e.Value())
		}
	}
}

func join(a, b string) string {
	if a == "" {
		return b
	}
	return a + "." + b
}

type checker struct {
	doc   *Doc
	found Problems
}

func (c *checker) add(path, seen, allowed, advice string) {
	c.found = append(c.found, c.doc.Problem(path, seen, allowed, advice))
}

type field struct {
	reflect.StructField
	key string
}

func fields(t reflect.Type) []field {
	var fs []field
	for i := range t.NumField() {
		f := t.Field(i)
		if k := f.Tag.Get("toml"); k != "" && k != "-" {
			fs = append(fs, field{f, k})
		}
	}
	return fs
}

func (c *checker) table(path string, v reflect.Value, t reflect.Type) {
	fs := fields(t)
	known := make([]string, len(fs))
	by := map[string]field{}
	for i, f := range fs {
		known[i] = f.key
		by[f.key] = f
	}
	keys := v.MapKeys()
	sort.Slice(keys, func(i, j int) bool { return keys[i].String() < keys[j].String() })
	var wrong []reflect.Value
	for _, k := range keys {
		name := k.String()
		f, ok := by[name]
		p := join(path, name)
		if !ok {
			advice := "remove it"
			if n := Nearest(name, known); n != "" {
				advice = fmt.Sprintf("did you mean %q?", n)
			}
			where := "at the top level"
			if path != "" {
				where = "in [" + path + "]"
			}
			c.add(p, "an unknown key", strings.Join(known, ", ")+" "+where, advice)
			wrong = append(wrong, k)
			continue
		}
		before := len(c.found)
		c.value(p, v.MapIndex(k), f.Type, f.Tag)
		if len(c.found) > before && !tables(v.MapIndex(k), f.Type) { // tables have had what is wrong in them taken out
			wrong = append(wrong, k)
		}
	}
	for _, f := range fs {
		if f.Tag.Get("need") == "yes" && !v.MapIndex(reflect.ValueOf(f.key)).IsValid() {
			p := join(path, f.key)
			t := f.Type
			if t.Kind() == reflect.Pointer {
				t = t.Elem()
			}
			allowed, advice := Allowed(f.Tag), "add this key"
			switch {
			case t.Kind() == reflect.Slice && t.Elem().Kind() == reflect.Struct:
				allowed, advice = "at least one [["+p+"]]", "add the table"
			case t.Kind() == reflect.Struct, t.Kind() == reflect.Map:
				allowed, advice = "a table, ["+p+"]", "add the table"
			case t.Kind() == reflect.String && f.Tag.Get("enum") == "":
				allowed = "a text in quotes"
			}
			c.add(p, "nothing", allowed, advice)
		}
	}
	for _, k := range wrong {
		v.SetMapIndex(k, reflect.Value{})
	}
}

// tables says that v is a table or an array of tables, as t wants it.
func tables(v reflect.Value, t reflect.Type) bool {
	for v.Kind() == reflect.Interface {
		v = v.Elem()
	}
	for t.Kind() == reflect.Pointer {
		t = t.Elem()
	}
	switch {
	case t.Kind() == reflect.Struct:
		return v.Kind() == reflect.Map
	case t.Kind() == reflect.Slice && t.Elem().Kind() == reflect.Struct && v.Kind() == reflect.Slice:
		for i := range v.Len() {
			if !tables(v.Index(i), t.Elem()) {
				return false
			}
		}
		return true
	}
	return false
}

// value checks a value of the text against the type and the tag of its field.
func (c *checker) value(path string, v reflect.Value, t reflect.Type, tag reflect.StructTag) {
	for v.Kind() == reflect.Interface {
		v = v.Elem()
	}
	for t.Kind() == reflect.Pointer {
		t = t.Elem()
	}
	switch t.Kind() {
	case reflect.Struct:
		c.structure(path, v, t, tag)
	case reflect.Map:
		c.texts(path, v)
	case reflect.Slice, reflect.Array:
		c.members(path, v, t, tag)
	case reflect.String:
		c.text(path, v, tag)
	case reflect.Bool:
		if v.Kind() != reflect.Bool {
			c.wrong(path, v, "true or false")
		}
	case reflect.Int, reflect.Float64:
		c.number(path, v, t, tag)
	}
}

// wrong reports a value of another kind than the one wanted.
func (c *checker) wrong(path string, v reflect.Value, want string) {
	c.add(path, show(v), want, "write "+want+" here")
}

// structure checks a table with known keys.
func (c *checker) structure(path string, v reflect.Value, t reflect.Type, tag reflect.StructTag) {
	if v.Kind() != reflect.Map {
		c.wrong(path, v, "a table, e.g. ["+path+"] or { ... }")
		return
	}
	before := len(c.found)
	c.table(path, v, t)
	// Bounds of a table are those of its value: { value = 1.5, source = "..." }.
	if x := v.MapIndex(reflect.ValueOf("value")); x.IsValid() && len(c.found) == before && bounds(tag) {
		c.value(path+".value", x, reflect.TypeFor[float64](), tag)
	}
}

// texts checks a table of texts with keys of any name.
func (c *checker) texts(path string, v reflect.Value) {
	if v.Kind() != reflect.Map {
		c.wrong(path, v, "a table of texts")
		return
	}
	for _, k := range v.MapKeys() {
		if e := v.MapIndex(k); e.Elem().Kind() != reflect.String {
			c.wrong(join(path, k.String()), e, "a text in quotes")
		}
	}
}

// members checks an array and each of its members.
func (c *checker) members(path string, v reflect.Value, t reflect.Type, tag reflect.StructTag) {
	if v.Kind() != reflect.Slice {
		want := "an array"
		if t.Elem().Kind() == reflect.Struct {
			want = "an array of tables, [[" + path + "]]"
		}
		c.wrong(path, v, want)
		return
	}
	n := 0
	if t.Kind() == reflect.Array {
		n = t.Len()
	}
	if s := tag.Get("len"); s != "" {
		n, _ = strconv.Atoi(s)
	}
	if n > 0 && v.Len() != n {
		c.add(path, fmt.Sprintf("%d members", v.Len()), fmt.Sprintf("exactly %d", n), "give both ends, low first")
		return
	}
	for i := range v.Len() {
		c.value(fmt.Sprintf("%s[%d]", path, i+1), v.Index(i), t.Elem(), tag)
	}
}

// text checks a text, which may have to be one of a list.
func (c *checker) text(path string, v reflect.Value, tag reflect.StructTag) {
	if v.Kind() != reflect.String {
		c.wrong(path, v, "a text in quotes")
		return
	}
	list := strings.Fields(tag.Get("enum"))
	if len(list) == 0 || slices.Contains(list, v.String()) {
		return
	}
	advice := "choose one of them"
	if n := Nearest(v.String(), list); n != "" {
		advice = fmt.Sprintf("did you mean %q?", n)
	}
	c.add(path, show(v), strings.Join(list, ", "), advice)
}

// number checks a number, whole where the field wants it.
func (c *checker) number(path string, v reflect.Value, t reflect.Type, tag reflect.StructTag) {
	switch {
	case v.Kind() == reflect.Int64:
		c.bounds(path, float64(v.Int()), v, tag)
	case v.Kind() == reflect.Float64 && t.Kind() == reflect.Float64:
		c.bounds(path, v.Float(), v, tag)
	case t.Kind() == reflect.Int:
		c.wrong(path, v, "a whole number")
	default:
		c.add(path, show(v), "a number", "write a number without quotes or unit here; the unit is in the key")
	}
}

func (c *checker) bounds(path string, x float64, v reflect.Value, tag reflect.StructTag) {
	bad := math.IsNaN(x) || math.IsInf(x, -1) || (math.IsInf(x, 1) && tag.Get("inf") == "")
	if s := tag.Get("min"); s != "" && x < parse(s) {
		bad = true
	}
	if s := tag.Get("above"); s != "" && x <= parse(s) {
		bad = true
	}
	if s := tag.Get("max"); s != "" && x > parse(s) && !math.IsInf(x, 1) {
		bad = true
	}
	if bad && !(x == 0 && tag.Get("zero") != "") {
		advice := "change the value"
		if u := tag.Get("unit"); u != "" {
			advice = "change the value; the unit is " + u
		}
		c.add(path, show(v), Allowed(tag), advice)
	}
}

func bounds(tag reflect.StructTag) bool {
	return tag.Get("min") != "" || tag.Get("max") != "" || tag.Get("above") != ""
}

func parse(s string) float64 {
	x, err := strconv.ParseFloat(s, 64)
	if err != nil {
		panic("strict: bad bound in a field tag: " + s)
	}
	return x
}

// Bounds are the lowest and the highest number a field's tag lets pass, an exclusive lower bound counted as inclusive;
// infinite for none.
func Bounds(tag reflect.StructTag) (lo, hi float64) {
	lo, hi = math.Inf(-1), math.Inf(1)
	for _, k := range []string{"min", "above"} {
		if s := tag.Get(k); s != "" {
			lo = parse(s)
		}
	}
	if s := tag.Get("max"); s != "" {
		hi = parse(s)
	}
	return lo, hi
}

// Allowed describes in words what a field's tag lets pass.
func Allowed(tag reflect.StructTag) string {
	if e := tag.Get("enum"); e != "" {
		return strings.Join(strings.Fields(e), ", ")
	}
	u := tag.Get("unit")
	if u != "" {
		u = " " + u
	}
	lo, hi, ab := tag.Get("min"), tag.Get("max"), tag.Get("above")
	s := ""
	switch {
	case ab != "" && hi != "":
		s = fmt.Sprintf("more than %s, at most %s%s", ab, hi, u)
	case ab != "":
		s = fmt.Sprintf("more than %s%s", ab, u)
	case lo != "" && hi != "":
		s = fmt.Sprintf("%s to %s%s", lo, hi, u)
	case lo != "":
		s = fmt.Sprintf("at least %s%s", lo, u)
	case hi != "":
		s = fmt.Sprintf("at most %s%s", hi, u)
	case u != "":
		s = "a finite number in" + u
	default:
		s = "a finite number"
	}
	if tag.Get("zero") != "" {
		s = "0, or " + s
	}
	if tag.Get("inf") != "" {
		s += ", or inf"
	}
	return s
}

func show(v reflect.Value) string {
	for v.Kind() == reflect.Interface {
		v = v.Elem()
	}
	switch v.Kind() {
	case reflect.String:
		s := v.String()
		if len(s) > 40 {
			s = s[:40] + "..."
		}
		return strconv.Quote(s)
	case reflect.Map:
		return "a table"
	case reflect.Slice:
		return "an array"
	}
	return fmt.Sprint(v.Interface())
}

// Nearest returns the candidate most like s, or "" if none is close: at most
// two edits (or a third of the length), or the same stem with another unit.
func Nearest(s string, candidates []string) string {
	best, dist := "", math.MaxInt
	low := strings.ToLower(s)
	for _, c := range candidates {
		d := edits(low, strings.ToLower(c))
		limit := max(2, len(c)/3)
		if stem(low) != "" && stem(low) == stem(strings.ToLower(c)) || strings.HasPrefix(strings.ToLower(c), low+"_") {
			limit, d = max(limit, d), min(d, 2)
		}
		if d <= limit && d < dist {
			best, dist = c, d
		}
	}
	return best
}

// stem drops the last underscore part, which in this project is a unit.
func stem(s string) string {
	if i := strings.LastIndexByte(s, '_'); i > 0 {
		return s[:i]
	}
	return ""
}

// edits is the Levenshtein distance, a swap of neighbours counted as one edit.
func edits(a, b string) int {
	rows := [3][]int{make([]int, len(b)+1), make([]int, len(b)+1), make([]int, len(b)+1)}
	for j := range rows[2] {
		rows[2][j] = j
	}
	for i := range len(a) {
		rows[0], rows[1], rows[2] = rows[1], rows[2], rows[0]
		older, old, row := rows[0], rows[1], rows[2]
		row[0] = i + 1
		for j := range len(b) {
			cost := old[j]
			if a[i] != b[j] {
				cost++
			}
			row[j+1] = min(cost, row[j]+1, old[j+1]+1)
			if i > 0 && j > 0 && a[i] == b[j-1] && a[i-1] == b[j] { // two letters swapped are one slip
				row[j+1] = min(row[j+1], older[j-1]+1)
			}
		}
	}
	return rows[2][len(b)]
}
