package mould

import "meltload/materials/unit"

// Shot returns the length (m) of filament of diameter d (m) that fills a volume (m3), and the time (s) at q (m3/s).
func Shot(volume, d, q float64) (length, t float64) {
	return volume / unit.Disc(d), volume / q
}
