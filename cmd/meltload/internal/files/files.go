// Package files opens what a command reads and writes what it gives: the one place that touches the user's files.
//
// Nothing is lost: an output never replaces an input of the same command, and no file of another kind than itself. What
// is written goes to a temporary file beside its place and is renamed when all of it is whole, so that what was there
// survives any failure. Permissions are kept, links are followed, and pipes and devices are written to where they are.
package files

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"sync"

	"meltload/materials/strict"
)

// Refusal says why a file may not be read or written as the command line wants it.
type Refusal struct{ error }

// Unwrap gives the error of the system, if there is one.
func (r Refusal) Unwrap() error { return r.error }

func refuse(format string, a ...any) error { return Refusal{fmt.Errorf(format, a...)} }

// Desk is what one run of a command reads from and writes to. Its zero value has no standard input and is ready to use.
type Desk struct {
	In    io.Reader // standard input, for the name -
	Out   io.Writer // standard output, likewise
	Force bool      // files of another kind may be replaced; inputs never

	inputs []input
	took   bool // standard input has been read
	texts  map[string][]byte
	live   live
}

type input struct {
	name string
	info fs.FileInfo
}

// Uses notes files that the command reads, whoever opens them; those that are not there are left to their reader.
func (d *Desk) Uses(names ...string) {
	for _, n := range names {
		if info, err := os.Stat(n); err == nil && n != "-" {
			d.inputs = append(d.inputs, input{n, info})
		}
	}
}

// Read reads a whole file of at most limit bytes; - is standard input. What was read before is not read again, so that
// a command works on one text from beginning to end. Errors: strict.Problems of what is no such file, Refusal of one
// that cannot be opened.
func (d *Desk) Read(name string, limit int) ([]byte, error) {
	if b, ok := d.texts[name]; ok {
		return b, nil
	}
	if err := d.once(name); err != nil {
		return nil, err
	}
	d.Uses(name)
	b, err := strict.ReadFile(name, d.In, limit)
	if err == nil {
		if d.texts == nil {
			d.texts = map[string][]byte{}
		}
		d.texts[name] = b
	}
	return b, refused(err)
}

// Before gives the text of a file that the command writes anew, at most limit bytes, nil where there is none: it is
// read to be kept and to be added to, and so is no input. Errors: as of Read.
func (d *Desk) Before(name string, limit int) ([]byte, error) {
	if name == "-" {
		return nil, refuse("%s is no file to add to; name one", name)
	}
	if info, err := os.Stat(name); err == nil && !info.Mode().IsRegular() && !info.IsDir() {
		return nil, nil // a pipe or a device has no text from before
	}
	b, err := strict.ReadFile(name, nil, limit)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	return b, refused(err)
}

// Open opens a file to be read as it comes; - is standard input, which can be read once. Errors: as of Read.
func (d *Desk) Open(name string) (io.ReadCloser, error) {
	if err := d.once(name); err != nil {
		return nil, err
	}
	if name == "-" && d.In != nil {
		return io.NopCloser(d.In), nil
	}
	d.Uses(name)
	f, err := os.Open(name)
	if err != nil {
		return nil, refused(err)
	}
	if info, err := f.Stat(); err == nil && info.IsDir() {
		f.Close()
		return nil, strict.Problems{{File: name, Seen: "a directory", Allowed: "a file", Advice: "name a file in it"}}
	}
	return f, nil
}

func (d *Desk) once(name string) error {
	if name != "-" {
		return nil
	}
	if d.took {
		return refuse("standard input (-) is named twice; it can be read once")
	}
	d.took = true
	return nil
}

// refused marks an error of opening a file as one of the command line.
func refused(err error) error {
	var p *fs.PathError
	if errors.As(err, &p) {
		return Refusal{err}
	}
	return err
}

// Output is a file to be written.
type Output struct {
	Name  string // - is standard output
	Kind  Kind
	Write func(io.Writer) error
}

// Free says, before anything is computed, why an output could not be written; nil where nothing is known against it.
func (d *Desk) Free(o Output) error {
	_, err := d.place(o)
	return err
}

// place is where an output will be written.
type place struct {
	Output
	path   string      // links followed
	was    fs.FileInfo // nil for a new file
	direct bool        // a pipe or a device, or standard output: written to where it is
}

func (d *Desk) place(o Output) (place, error) {
	p := place{Output: o, path: o.Name}
	if o.Name == "-" {
		p.direct = true
		return p, nil
	}
	var err error
	p.was, err = os.Stat(o.Name)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		p.path, err = target(o.Name)
		return p, err
	case err != nil:
		return p, err
	case p.was.IsDir():
		return p, refuse("%s is a directory; name a file for the %s", o.Name, o.Kind.Name)
	case !p.was.Mode().IsRegular() || strings.HasPrefix(o.Name, "/dev/fd/") || o.Name == "/dev/stdout" ||
		o.Name == "/dev/stderr":
		p.direct = true
		return p, nil
	}
	for _, in := range d.inputs {
		if os.SameFile(in.info, p.was) {
			return p, refuse("%s is an input of this command (%s); give the %s another name", o.Name, in.name,
				o.Kind.Name)
		}
	}
	if p.path, err = filepath.EvalSymlinks(o.Name); err != nil {
		return p, err
	}
	if d.Force {
		return p, nil
	}
	if p.was.Mode().Perm()&0o200 == 0 {
		return p, refuse("%s is write-protected; give another name, or --force to replace it", o.Name)
	}
	if p.was.Size() > 0 && !o.Kind.isOf(p.path) {
		if o.Kind.Same == nil {
			return p, refuse("%s exists, and a %s is only replaced with --force; or give another name", o.Name,
				o.Kind.Name)
		}
		return p, refuse("%s exists and is no %s; give another name, or --force to replace it", o.Name, o.Kind.Name)
	}
	return p, nil
}

// target follows links that lead to a file that is not there yet.
func target(name string) (string, error) {
	for range 40 {
		to, err := os.Readlink(name)
		if err != nil {
			return name, nil
		}
		if !filepath.IsAbs(to) {
			to = filepath.Join(filepath.Dir(name), to)
		}
		name = to
	}
	return name, refuse("%s: too many links", name)
}

// Put writes outputs: each is checked first, then all are written to temporary files, then those take their places.
// Standard output, pipes and devices come before the last step. A failure leaves every file as it was, unless it comes
// while renaming. Errors: Refusal of what may not be replaced, before anything is written; the system's error of what
// cannot be written.
func (d *Desk) Put(outs ...Output) (err error) {
	places := make([]place, len(outs))
	standard := 0
	for i, o := range outs {
		if places[i], err = d.place(o); err != nil {
			return err
		}
		if o.Name == "-" {
			standard++
		}
		for _, p := range places[:i] {
			if p.path == places[i].path && !p.direct || standard > 1 || p.was != nil && places[i].was != nil &&
				os.SameFile(p.was, places[i].was) && !p.direct {
				return refuse("%s is named for two outputs; give each a name of its own", o.Name)
			}
		}
	}
	temps := make([]string, len(outs))
	defer func() {
		for _, t := range temps {
			d.discard(t)
		}
	}()
	for i, p := range places {
		if p.direct {
			continue
		}
		if temps[i], err = d.temporary(p); err != nil {
			return err
		}
	}
	for _, p := range places {
		if p.direct {
			if err := d.direct(p); err != nil {
				return err
			}
		}
	}
	for i, p := range places {
		if !p.direct {
			if err := d.settle(temps[i], p.path); err != nil {
				return err
			}
		}
	}
	return nil
}

func (d *Desk) direct(p place) error {
	if p.Name == "-" {
		if d.Out == nil {
			return refuse("no standard output for the %s", p.Kind.Name)
		}
		return p.Write(d.Out)
	}
	f, err := os.OpenFile(p.Name, os.O_WRONLY, 0)
	if err != nil {
		return err
	}
	if err := p.Write(f); err != nil {
		f.Close()
		return err
	}
	return f.Close()
}

// live are the temporary files of a run, and whether it is being stopped.
type live struct {
	sync.Mutex
	names    map[string]bool
	stopped  bool
	journals []string
}

// errStopped is the error of writing after Abandon.
var errStopped = errors.New("stopped")

// Abandon removes the temporary files of the run and lets no more file take its place: for a run that is left while its
// command still works.
func (d *Desk) Abandon() {
	d.live.Lock()
	defer d.live.Unlock()
	d.live.stopped = true
	for n := range d.live.names {
		os.Remove(n)
	}
	d.live.names = nil
}

// temporary writes an output whole to a new file beside its place and returns the file's name.
func (d *Desk) temporary(p place) (_ string, err error) {
	f, err := d.create(p.path)
	if err != nil {
		return "", err
	}
	name := f.Name()
	defer func() {
		if err != nil {
			f.Close()
			d.discard(name)
		}
	}()
	if p.was != nil {
		keep(f, p.was)
	}
	if err = p.Write(f); err != nil {
		return "", err
	}
	if err = f.Sync(); err != nil { // a full disk may show only now
		return "", err
	}
	if err = f.Close(); err != nil {
		return "", err
	}
	return name, nil
}

// create makes a new file beside path, with the permissions that the umask leaves.
func (d *Desk) create(path string) (*os.File, error) {
	d.live.Lock()
	defer d.live.Unlock()
	if d.live.stopped {
		return nil, errStopped
	}
	for {
		name := filepath.Join(filepath.Dir(path), fmt.Sprintf(".%s.%08x", filepath.Base(path), rand.Uint32()))
		f, err := os.OpenFile(name, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o666)
		if errors.Is(err, fs.ErrExist) {
			continue
		}
		if err != nil {
			return nil, err
		}
		if d.live.names == nil {
			d.live.names = map[string]bool{}
		}
		d.live.names[name] = true
		return f, nil
	}
}

// settle renames a temporary file to its place.
func (d *Desk) settle(name, path string) error {
	d.live.Lock()
	defer d.live.Unlock()
	if d.live.stopped {
		return errStopped
	}
	if err := os.Rename(name, path); err != nil {
		return err
	}
	delete(d.live.names, name)
	return nil
}

// discard removes a temporary file that has not taken its place.
func (d *Desk) discard(name string) {
	d.live.Lock()
	defer d.live.Unlock()
	if d.live.names[name] {
		delete(d.live.names, name)
		os.Remove(name)
	}
}
