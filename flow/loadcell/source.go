package loadcell

import (
	"bufio"
	"bytes"
	"compress/gzip"
	"fmt"
	"io"
	"io/fs"
	"os"
	"strings"

	"meltload/materials/strict"
)

// How much is read ahead, to find out how the log is written and to join long lines, and how much a packed file may
// hold.
const (
	lookAhead   = 1 << 18
	maxUnpacked = 8 << 30
)

// source is the text of a log, unpacked, row by row.
type source struct {
	r     *bufio.Reader
	size  int64 // bytes of text if known, else 0
	sheet bool  // from a spreadsheet
	line  int
	long  bool // the row just read was longer than can be held and is cut
	left  *io.LimitedReader
	file  *os.File // the text kept aside, nil without
}

// maxAside is how many bytes of a text of unknown length are kept aside at most, to learn its length.
const maxAside = 2 << 30

// aside copies a text of unknown length (from a pipe, or packed) into a temporary file and reads it from there: with
// its length known there is room for all rows at once, where columns that grow take twice as much. A text that is read
// ahead as a whole, one beyond maxAside, and a system without temporary files are read as they come.
func (s *source) aside() error {
	if s.size > 0 || len(s.head()) < lookAhead {
		return nil
	}
	f, err := os.CreateTemp("", "meltload-log-")
	if err != nil {
		return nil
	}
	s.file = f
	n, err := io.CopyN(f, s.r, maxAside)
	if err != nil && err != io.EOF {
		return err
	}
	if _, err := f.Seek(0, io.SeekStart); err != nil {
		return err
	}
	rest := s.r
	s.r = bufio.NewReaderSize(io.MultiReader(f, rest), lookAhead)
	if err == io.EOF {
		s.size = n
	}
	return nil
}

// close removes what was kept aside.
func (s *source) close() {
	if s.file != nil {
		s.file.Close()
		os.Remove(s.file.Name())
	}
}

// open unpacks gzip, spreadsheets and UTF-16.
func open(r io.Reader) (*source, error) {
	s := &source{size: sizeOf(r)}
	b := bufio.NewReaderSize(r, lookAhead)
	magic, _ := b.Peek(4)
	if bytes.HasPrefix(magic, []byte{0x1f, 0x8b}) {
		z, err := gzip.NewReader(b)
		if err != nil {
			return nil, fmt.Errorf("a damaged gzip file: %w", err)
		}
		s.size = 0
		s.left = &io.LimitedReader{R: z, N: maxUnpacked}
		b = bufio.NewReaderSize(s.left, lookAhead)
		magic, _ = b.Peek(4)
	}
	switch {
	case bytes.HasPrefix(magic, []byte("PK\x03\x04")):
		text, err := sheetText(b)
		if err != nil {
			return nil, err
		}
		s.size, s.sheet = int64(len(text)), true
		b = bufio.NewReaderSize(strings.NewReader(text), lookAhead)
	case bytes.HasPrefix(magic, []byte{0xff, 0xfe}), bytes.HasPrefix(magic, []byte{0xfe, 0xff}),
		bytes.HasPrefix(magic, []byte("\xef\xbb\xbf")):
		if magic[0] != 0xef { // two bytes a letter
			s.size /= 2
		}
		b = bufio.NewReaderSize(strict.UTF8(b), lookAhead)
	}
	s.r = b
	if err := s.aside(); err != nil {
		s.close()
		return nil, err
	}
	return s, nil
}

// sizeOf returns the bytes that a reader will give, if it can tell, to make room for the rows at once.
func sizeOf(r io.Reader) int64 {
	switch x := r.(type) {
	case interface{ Len() int }:
		return int64(x.Len())
	case interface{ Stat() (fs.FileInfo, error) }:
		if i, err := x.Stat(); err == nil && i.Mode().IsRegular() {
			return i.Size()
		}
	case interface{ Size() int64 }:
		return x.Size()
	}
	return 0
}

// head returns what is read ahead.
func (s *source) head() []byte {
	b, _ := s.r.Peek(lookAhead)
	return b
}

// next returns the next row without its end; it is good until the next call. io.EOF at the end.
func (s *source) next() ([]byte, error) {
	s.long = false
	row, err := s.r.ReadSlice('\n')
	for err == bufio.ErrBufferFull { // no row of a log is so long: what is beyond is passed over
		s.long = true
		_, err = s.r.ReadSlice('\n')
	}
	if err != nil && (err != io.EOF || len(row) == 0) {
		if err == io.EOF && s.left != nil && s.left.N <= 0 {
			return nil, fmt.Errorf("a packed file of more than %d GB", maxUnpacked>>30)
		}
		return nil, err
	}
	s.line++
	if n := len(row); n > 0 && row[n-1] == '\n' {
		row = row[:n-1]
	}
	if n := len(row); n > 0 && row[n-1] == '\r' {
		row = row[:n-1]
	}
	return row, nil
}
