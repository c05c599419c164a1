package report

import (
	"io"

	"meltload/report/plot"
)

// Figure is a chart as a file, ready to publish.
type Figure struct {
	Name   string // of the block, with the format as its ending
	Format string // svg, png (300 dots an inch) or pdf
	Write  func(io.Writer) error
}

// Figures are the charts of a document in every format.
func (d *Document) Figures() []Figure {
	var out []Figure
	for _, b := range d.Blocks {
		if b.Chart == nil {
			continue
		}
		for _, format := range plot.Formats {
			out = append(out,
				Figure{b.ID + "." + format, format, func(w io.Writer) error { return plot.Write(w, b.Chart, format) }})
		}
	}
	return out
}
