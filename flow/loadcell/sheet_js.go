package loadcell

import (
	"errors"
	"io"
)

// sheetText is not there in a browser: the pages read no logs, and the library is larger than all else.
func sheetText(io.Reader) (string, error) {
	return "", errors.New("a spreadsheet, which this build does not read")
}
