package loadcell_test

import (
	"fmt"
	"strings"

	"meltload/flow/loadcell"
)

// A log with decimal commas and a row that is not data: it is counted and shown, not dropped.
func Example() {
	l,
		err := loadcell.Read("bench.txt",
		strings.NewReader("t;push force (N)\n0,0;1,5\n0,1;1,6\noops\n0,2;1,4\n0,3;1,5\n"), loadcell.Format{})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%d rows, %d used, step %.1f s\n", l.Rows, len(l.Time), l.Step)
	for _, r := range l.Junk.First {
		fmt.Printf("line %d: %s\n", r.Line, r.Text)
	}
	// Output:
	// 5 rows, 4 used, step 0.1 s
	// line 4: oops
}
