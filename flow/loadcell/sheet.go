//go:build !js

package loadcell

import (
	"fmt"
	"io"
	"strings"

	"github.com/xuri/excelize/v2"
)

// maxSheet is how much a spreadsheet may hold.
const maxSheet = 1 << 29

// inOneCell keeps the text of a cell within its row and column.
var inOneCell = strings.NewReplacer("\t", " ", "\n", " ", "\r", " ")

// sheetText writes the sheet with most rows of a spreadsheet as rows with tabs. Cells come as they are stored, so that
// times keep their thousandths.
func sheetText(r io.Reader) (string, error) {
	x,
		err := excelize.OpenReader(r, excelize.Options{UnzipSizeLimit: maxSheet, UnzipXMLSizeLimit: maxSheet,
		RawCellValue: true})
	if err != nil {
		return "", fmt.Errorf("a spreadsheet that cannot be opened: %w", err)
	}
	defer x.Close()
	best := ""
	most := 0
	for _, name := range x.GetSheetList() {
		rows, err := x.Rows(name)
		if err != nil {
			continue
		}
		var b strings.Builder
		n := 0
		for rows.Next() {
			cells, err := rows.Columns()
			if err != nil {
				return "", fmt.Errorf("a spreadsheet with a damaged row %d in %s: %w", n+1, name, err)
			}
			for i, c := range cells {
				if i > 0 {
					b.WriteByte('\t')
				}
				b.WriteString(inOneCell.Replace(c))
			}
			b.WriteByte('\n')
			if len(cells) > 0 {
				n++
			}
		}
		if err := rows.Error(); err != nil {
			return "", fmt.Errorf("a spreadsheet with a damaged end of %s: %w", name, err)
		}
		rows.Close()
		if n > most {
			best, most = b.String(), n
		}
	}
	return best, nil
}
