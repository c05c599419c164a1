package materials

// Warning is a remark that travels with a result: the number stands, but
// something about it is outside what its sources support.
type Warning struct {
	Code    string `json:"code"`    // stable identifier
	Message string `json:"message"` // what, where, and what to do
}

// AddWarning appends w to list unless a warning of the same code and text is there already.
func AddWarning(list []Warning, w ...Warning) []Warning {
next:
	for _, x := range w {
		for _, y := range list {
			if x == y {
				continue next
			}
		}
		list = append(list, x)
	}
	return list
}
