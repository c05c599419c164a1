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
	"time"

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

// Texts that are far too long, deep or wrong are refused in a moment, with few words.
func TestTooMuch(t *testing.T) {
	lines := func(n int, f string) string {
		var b strings.Builder
		for i := range n {
			fmt.Fprintf(&b, f, i)
		}
		return b.String()
	}
	for name, src := range map[string]string{
		"unknown keys": lines(20_000, "k%d = 1\n"), "tables": lines(50_000, "[a%d]\n"),
		"tables of one array": lines(50_000, "[[a]]\nx = %d\n"),
		"arrays in arrays":    "x = " + strings.Repeat("[", 400_000) + strings.Repeat("]", 400_000),
		"a key of many parts": "x" + strings.Repeat(".x", 300_000) + " = 1",
		"inline tables":       "x = " + strings.Repeat("{x = ", 5000) + "1" + strings.Repeat("}", 5000),
		"long":                strings.Repeat("#\n", 600_000), "few enough unknown keys": lines(4000, "k%d = 1\n"),
		"a long text": "t = \"" + strings.Repeat("a", 900_000) + "\"\nq = 1",
	} {
		start := time.Now()
		var w wished
		_, ps := Decode("f", []byte(src), &w)
		if took := time.Since(start); took > 3*time.Second {
			t.Errorf("%s: %v", name, took)
		}
		if text := ps.Error(); len(ps) == 0 || len(text) > 10_000 {
			t.Errorf("%s: %d problems, %d bytes of text", name, len(ps), len(text))
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
