package plot

import (
	"errors"
	"io"
)

// figure is a drawing, which a browser does not need: there the page's script draws.
type figure struct{}

func (c XY) figure() *figure     { return nil }
func (c Bars) figure() *figure   { return nil }
func (c Ranges) figure() *figure { return nil }

// Write is not there in a browser.
func Write(io.Writer, Chart, string) error { return errors.New("plot: this build draws no files") }

// Inline is not there in a browser.
func Inline(Chart, string) string { return "" }
