// Package report renders a study.Result: as text for the terminal, as JSON, as
// CSV tables, and as one HTML file that needs no network. It computes nothing
// physical.
package report
