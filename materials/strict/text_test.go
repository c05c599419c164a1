package strict

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"

	"golang.org/x/text/encoding/unicode"
)

type wished struct {
	X float64 `toml:"x" min:"0" max:"1000"`
	N int     `toml:"n"`
	T string  `toml:"t"`
}

func TestTextAsEditorsWriteIt(t *testing.T) {
	const plain = "x = 215\nt = \"Dü\"\n"
	encode := func(e unicode.Endianness, b unicode.BOMPolicy) []byte {
		s, err := unicode.UTF16(e, b).NewEncoder().Bytes([]byte(plain))
		if err != nil {
			t.Fatal(err)
		}
		return s
	}
	for name, src := range map[string][]byte{
		"plain": []byte(plain), "UTF-8 with a mark": append([]byte("\xef\xbb\xbf"), plain...),
		"UTF-16, low byte first":  encode(unicode.LittleEndian, unicode.UseBOM),
		"UTF-16, high byte first": encode(unicode.BigEndian, unicode.UseBOM),
		"Windows line ends":       []byte(strings.ReplaceAll(plain, "\n", "\r\n")),
		"hexadecimal":             []byte("x = 0xD7\nt = \"Dü\"\n"), "octal": []byte("x = 0o327\nt = \"Dü\"\n"),
		"binary": []byte("x = 0b11010111\nt = \"Dü\"\n"),
	} {
		var w wished
		if _, ps := Decode("f", src, &w); len(ps) > 0 || w.X != 215 || w.T != "Dü" {
			t.Errorf("%s: %v %+v", name, ps, w)
		}
		b, err := io.ReadAll(UTF8(bytes.NewReader(src)))
		if err != nil || strings.HasPrefix(string(b), "\ufeff") || !strings.Contains(string(b), "Dü") {
			t.Errorf("%s as a stream: %v %q", name, err, b)
		}
	}
	var w wished
	if _, ps := Decode("f", encode(unicode.LittleEndian, unicode.IgnoreBOM), &w); len(ps) != 1 ||
		!strings.Contains(ps[0].Seen, "UTF-16") {
		t.Errorf("UTF-16 without a mark: %v", ps)
	}
}

// Texts that are far too long, deep or wrong are refused by the limit that they pass, with few words, before work goes
// into them: what is allocated, which unlike time does not hang on the machine, stays near the length of the text.
func TestTooMuch(t *testing.T) {
	lines := func(n int, f string) string {
		var b strings.Builder
		for i := range n {
			fmt.Fprintf(&b, f, i)
		}
		return b.String()
	}
	for name, c := range map[string]struct {
		src, want string
		share     float64 // bytes allocated for each of the text
	}{
		"unknown keys":        {lines(20_000, "k%d = 1\n"), "more than 5000 keys", 1},
		"tables":              {lines(50_000, "[a%d]\n"), "more than 5000 keys", 1},
		"tables of one array": {lines(50_000, "[[a]]\nx = %d\n"), "more than 5000 keys", 1},
		"arrays in arrays": {"x = " + strings.Repeat("[", 400_000) + strings.Repeat("]", 400_000),
			"arrays or tables more than 16 deep", 0.1},
		"a key of many parts": {"x" + strings.Repeat(".x", 300_000) + " = 1", "a key of 300001 parts", 150},
		"inline tables": {"x = " + strings.Repeat("{x = ", 5000) + "1" + strings.Repeat("}", 5000),
			"more than 16 deep", 1},
		"long":                    {strings.Repeat("#\n", 600_000), "at most 1048576", 0.1},
		"few enough unknown keys": {lines(4000, "k%d = 1\n"), "an unknown key", 300},
		"a long text":             {"t = \"" + strings.Repeat("a", 900_000) + "\"\nq = 1", "an unknown key", 30},
	} {
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		var w wished
		_, ps := Decode("f", []byte(c.src), &w)
		runtime.ReadMemStats(&after)
		used := float64(after.TotalAlloc - before.TotalAlloc - uint64(len(c.src))) // without the copy made here
		if share := used / float64(len(c.src)); share > c.share {
			t.Errorf("%s: %.1f bytes allocated for each of the text, at most %g", name, share, c.share)
		}
		if text := ps.Error(); !strings.Contains(text, c.want) || len(text) > 10_000 {
			t.Errorf("%s: %d problems, %d bytes of text: %.200s", name, len(ps), len(text), text)
		}
	}
	if strings.Count(make(Problems, 1000).Error(), "\n") != MaxShown {
		t.Error("the others are not counted on one line")
	}
}

func TestReadFile(t *testing.T) {
	dir := t.TempDir()
	var ps Problems
	if _, err := ReadFile(dir, nil, MaxText); !errors.As(err, &ps) || !strings.Contains(ps.Error(), "a directory") {
		t.Errorf("a directory: %v", err)
	}
	if _, err := ReadFile(filepath.Join(dir, "none"), nil, MaxText); !os.IsNotExist(err) {
		t.Errorf("no file: %v", err)
	}
	if runtime.GOOS == "linux" {
		if _, err := ReadFile("/dev/zero", nil, MaxText); !errors.As(err, &ps) ||
			!strings.Contains(ps.Error(), "more than 1048576 bytes") {
			t.Errorf("a file without end: %v", err)
		}
	}
	if b, err := ReadFile("-", strings.NewReader("x"), MaxText); err != nil || string(b) != "x" {
		t.Errorf("standard input: %q %v", b, err)
	}
	if _, err := ReadFile("-", nil, MaxText); !errors.As(err, &ps) {
		t.Errorf("no standard input: %v", err)
	}
}

// A table as long as the limit allows is refused or read in a moment; nothing of its size is kept.
func TestTableLimits(t *testing.T) {
	cols := []Column{{Name: "a", Lo: 0, Hi: 10}}
	for name, src := range map[string]string{
		"rows": "a\n" + strings.Repeat("1\n", MaxRows+1), "columns": "a" + strings.Repeat(",b", MaxColumns),
		"bytes":     "a\n" + strings.Repeat("1\n", MaxTable/2),
		"bad cells": "a\n" + strings.Repeat("x\n", MaxRows), "a hexadecimal cell": "a\n0x1\n", "nan": "a\nNaN\n",
		"underscores": "a\n1_0\n",
	} {
		_, err := Table("f", strings.NewReader(src), cols)
		var ps Problems
		if !errors.As(err, &ps) || len(ps.Error()) > 10_000 {
			t.Errorf("%s: %.200v", name, err)
		}
	}
}
