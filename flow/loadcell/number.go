package loadcell

import (
	"bytes"
	"strconv"
	"strings"
	"time"
)

// number reads a plain decimal number without allocating; NaN and infinities are not data.
func number(b []byte, comma bool) (float64, bool) {
	if len(b) == 0 {
		return 0, false
	}
	if b[0] <= ' ' || b[len(b)-1] <= ' ' || b[0] > '~' || b[len(b)-1] > '~' { // most cells have no blanks about them
		b = bytes.TrimSpace(b)
	}
	if len(b) >= 2 && b[0] == '"' && b[len(b)-1] == '"' {
		b = b[1 : len(b)-1]
	}
	if len(b) == 0 || len(b) > 40 {
		return 0, false
	}
	// The fast path: sign, up to 15 digits, one decimal sign.
	i, neg := 0, false
	if b[0] == '-' || b[0] == '+' {
		neg = b[0] == '-'
		i = 1
	}
	var m uint64
	digits, frac, point := 0, 0, false
	dot := byte('.')
	if comma {
		dot = ','
	}
	for ; i < len(b); i++ {
		switch c := b[i]; {
		case c >= '0' && c <= '9':
			m = m*10 + uint64(c-'0')
			digits++
			if point {
				frac++
			}
		case c == dot && !point:
			point = true
		default:
			return slowNumber(b, comma)
		}
	}
	if digits == 0 {
		return 0, false
	}
	if digits > 15 {
		return slowNumber(b, comma)
	}
	x := float64(m) / pow10[frac]
	if neg {
		x = -x
	}
	return x, true
}

var pow10 = [16]float64{1, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15}

func slowNumber(b []byte, comma bool) (float64, bool) {
	s := string(b)
	if comma {
		if strings.ContainsRune(s, '.') {
			return 0, false
		}
		s = strings.Replace(s, ",", ".", 1)
	}
	if strings.ContainsAny(s, "xXpPiInN_") { // hexadecimal, inf and nan are not readings
		return 0, false
	}
	x, err := strconv.ParseFloat(s, 64)
	return x, err == nil
}

// suffix cuts a unit off a reading such as "239.6 g"; empty if there is none.
func suffix(b []byte, comma bool) (rest []byte, tail string) {
	b = bytes.Trim(b, " \t\r\"")
	end := bytes.LastIndexAny(b, "0123456789")
	if end < 0 || end == len(b)-1 || len(b)-end > 12 {
		return b, ""
	}
	if b[end] == '3' && end > 0 && b[end-1] == 'm' { // "4 mm3/s": the digit belongs to the unit
		if end = bytes.LastIndexAny(b[:end-1], "0123456789"); end < 0 {
			return b, ""
		}
	}
	rest, tail = b[:end+1], strings.TrimSpace(string(b[end+1:]))
	if _, ok := number(rest, comma); !ok {
		return b, ""
	}
	return rest, tail
}

// onOff reads the words by which loggers write a feed that runs or does not.
func onOff(b []byte) (float64, bool) {
	switch strings.ToLower(string(bytes.Trim(b, " \t\r\""))) {
	case "on", "run", "running", "feed", "feeding", "extrude", "start", "true", "yes", "go":
		return 1, true
	case "off", "stop", "stopped", "idle", "rest", "hold", "false", "no", "end", "pause", "wait":
		return 0, true
	}
	return 0, false
}

// clockLayouts are the ways a time of day is written, with and without a date. Where day and month cannot be told apart
// the month comes first; a log that lasts over midnight into another month would show it.
var clockLayouts = []string{time.RFC3339Nano, "2006-01-02 15:04:05.999999999", "2006-01-02T15:04:05.999999999",
	"2006/01/02 15:04:05.999999999", "02.01.2006 15:04:05.999999999", "1/2/2006 15:04:05.999999999",
	"2/1/2006 15:04:05.999999999", "1/2/2006 3:04:05.999999999 PM", "2/1/2006 3:04:05.999999999 PM",
	"2006-01-02 3:04:05.999999999 PM", "15:04:05.999999999", "3:04:05.999999999 PM", "3:04:05.999999999PM"}

func isClock(b []byte) bool {
	n, colons := 0, 0
	for _, c := range b {
		switch {
		case c == ':':
			colons++
		case c >= '0' && c <= '9':
			n++
		}
	}
	// 7:03:12 has five digits; +02:00 of a time zone adds a colon
	return (colons == 2 || colons == 3) && n >= 5 && len(b) < 48
}

// clock turns clock times into seconds from the first; a time of day without a date goes on past midnight.
type clock struct {
	layout  string
	first   time.Time
	dated   bool
	last    float64
	days    float64
	started bool
}

func (c *clock) seconds(b []byte) (float64, bool) {
	s := strings.ToUpper(strings.Trim(string(b), " \t\r\"'[]"))
	s = strings.Replace(s, ",", ".", 1)
	if n := strings.LastIndexByte(s, ':'); n >= 0 && strings.Count(s, ":") == 3 && !strings.ContainsAny(s, "+-Z") {
		s = s[:n] + "." + s[n+1:] // 12:03:44:123 as some monitors write thousandths
	}
	t, err := time.Parse(c.layout, s)
	if c.layout == "" || err != nil {
		for _, l := range clockLayouts {
			if t, err = time.Parse(l, s); err == nil {
				c.layout = l
				break
			}
		}
	}
	if err != nil {
		return 0, false
	}
	if !c.started {
		c.first, c.started, c.dated = t, true, strings.Contains(c.layout, "2006")
	}
	const halfDay = 43200
	x := t.Sub(c.first).Seconds() + c.days
	if !c.dated && x < c.last-halfDay {
		c.days += 2 * halfDay
		x += 2 * halfDay
	}
	c.last = x
	return x, true
}
