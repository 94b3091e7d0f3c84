package stability

import (
	"bufio"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
)

// maxLine is longer than any number is written.
const maxLine = 1 << 12

// LineError is a line of a data file that can't be read.
type LineError struct {
	Line int64
	Text string
	Why  string
}

// Error returns `line 7: "1 2": …`.
func (e *LineError) Error() string { return fmt.Sprintf("line %d: %.40q: %s", e.Line, e.Text, e.Why) }

// ReadData reads numbers, one a line. Empty lines and what follows a # are
// skipped; nan is a gap, between numbers and at either end. The error is a *LineError
// for any other line that is no decimal number, infinite or above maxData, else the
// reader's own.
func ReadData(r io.Reader) ([]float64, error) {
	sc := bufio.NewScanner(r)
	sc.Buffer(make([]byte, 0, maxLine), maxLine)
	var data []float64
	line := int64(0)
	for sc.Scan() {
		line++
		text, _, _ := strings.Cut(sc.Text(), "#")
		text = strings.TrimSpace(strings.TrimPrefix(text, "\ufeff"))
		if text == "" {
			continue
		}
		v, err := strconv.ParseFloat(text, 64)
		if err != nil || strings.ContainsAny(text, "xX_") { // as programs write numbers
			return nil, &LineError{Line: line, Text: text, Why: "write one number a line, with a decimal point, or nan for a gap"}
		}
		if math.IsInf(v, 0) {
			return nil, &LineError{Line: line, Text: text, Why: "infinite; write nan for a gap"}
		}
		if math.Abs(v) > maxData {
			return nil, &LineError{Line: line, Text: text, Why: tooLarge}
		}
		data = append(data, v)
	}
	if err := sc.Err(); err != nil {
		if err == bufio.ErrTooLong {
			return nil, &LineError{Line: line + 1, Why: fmt.Sprintf("longer than %d characters: this is no file of numbers", maxLine)}
		}
		return nil, fmt.Errorf("reading data: %w", err)
	}
	return data, nil
}
