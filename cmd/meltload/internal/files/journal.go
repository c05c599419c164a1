package files

import (
	"bufio"
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"slices"
	"sync"
)

// Journal is a file that grows by a line of JSON for each piece of work that is done, so that work which was stopped
// can be taken up where it was. Its first line says what it is.
type Journal struct {
	mu sync.Mutex
	f  *os.File
}

// mark is the first line of a journal.
type mark struct {
	Journal string `json:"journal"`
}

// MaxJournal is the longest line of a journal, in bytes.
const MaxJournal = 1 << 20

// Journal opens a journal of a command, made if it is not there. each is called with every line that is whole; one that
// was cut short, as by a failing disk, is passed over, and so is one that each does not know. Errors: Refusal of a file
// that is none, or one of another command; the system's error of one that cannot be written.
func (d *Desk) Journal(name, command string, each func(line []byte)) (*Journal, error) {
	what := mark{"meltload " + command}
	kind := Kind{"journal of " + what.Journal, func(r io.Reader) bool {
		line, err := bufio.NewReaderSize(io.LimitReader(r, head), head).ReadBytes('\n')
		var m mark
		return err == nil && json.Unmarshal(line, &m) == nil && m == what
	}}
	force := d.Force
	d.Force = false // a journal is added to: nothing else may be
	_, err := d.place(Output{Name: name, Kind: kind})
	d.Force = force
	if err != nil {
		return nil, err
	}
	whole, err := lines(name, each)
	if err != nil {
		return nil, refused(err)
	}
	f, err := os.OpenFile(name, os.O_APPEND|os.O_CREATE|os.O_WRONLY, 0o666)
	if err != nil {
		return nil, refused(err)
	}
	j := &Journal{f: f}
	info, err := f.Stat()
	switch {
	case err != nil:
	case info.Size() == 0:
		err = j.Add(what)
	case !whole:
		_, err = f.Write([]byte{'\n'})
	}
	if err != nil {
		return nil, errors.Join(err, f.Close())
	}
	d.live.Lock()
	defer d.live.Unlock()
	d.live.journals = append(d.live.journals, name)
	return j, nil
}

// Journals are the names of the journals that the run has opened: what they hold stays when it is stopped.
func (d *Desk) Journals() []string {
	d.live.Lock()
	defer d.live.Unlock()
	return slices.Clone(d.live.journals)
}

// lines reads what a journal holds, and tells whether its last line is whole.
func lines(name string, each func(line []byte)) (whole bool, err error) {
	f, err := os.Open(name)
	if errors.Is(err, fs.ErrNotExist) {
		return true, nil
	}
	if err != nil {
		return false, err
	}
	defer f.Close()
	in := bufio.NewScanner(f)
	in.Buffer(nil, MaxJournal)
	whole = true
	in.Split(func(data []byte, atEOF bool) (int, []byte, error) {
		if i := bytes.IndexByte(data, '\n'); i >= 0 {
			return i + 1, data[:i], nil
		}
		if atEOF && len(data) > 0 {
			whole = false
			return len(data), nil, nil
		}
		return 0, nil, nil
	})
	for in.Scan() {
		if json.Valid(in.Bytes()) {
			each(in.Bytes())
		}
	}
	if err := in.Err(); err != nil {
		return false, fmt.Errorf("%s: a line is longer than %d bytes: this is no journal that can be read: %w", name,
			MaxJournal, err)
	}
	return whole, nil
}

// Add writes a line, at once and whole.
func (j *Journal) Add(v any) error {
	b, err := json.Marshal(v)
	if err != nil {
		return err
	}
	j.mu.Lock()
	defer j.mu.Unlock()
	_, err = j.f.Write(append(b, '\n'))
	return err
}

// Close ends a journal; what was added is on the disk.
func (j *Journal) Close() error { return errors.Join(j.f.Sync(), j.f.Close()) }
