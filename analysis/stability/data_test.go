package stability

import (
	"math"
	"strings"
	"testing"
)

func TestReadData(t *testing.T) {
	got, err := ReadData(strings.NewReader("\ufeff# nine\n892\n\n 809.5 # a remark\nnan\n-1e-3\r\n"))
	if err != nil || len(got) != 4 || got[0] != 892 || got[1] != 809.5 || !math.IsNaN(got[2]) || got[3] != -1e-3 {
		t.Errorf("got %v, %v", got, err)
	}
}

func TestReadDataNamesTheLine(t *testing.T) {
	for _, c := range []struct{ text, want string }{
		{"1\n2\nthree\n", `line 3: "three": write one number a line, with a decimal point, or nan for a gap`},
		{"# head\n1 2\n", `line 2: "1 2": write one number a line, with a decimal point, or nan for a gap`},
		{"1\n+Inf\n", `line 2: "+Inf": infinite; write nan for a gap`},
		{"1\n0,5\n", `line 2: "0,5": write one number a line, with a decimal point, or nan for a gap`},
		{"nan\n-nan\n", `line 2: "-nan": write one number a line, with a decimal point, or nan for a gap`},
		{"1\n\n1_0\n", `line 3: "1_0": write one number a line, with a decimal point, or nan for a gap`},
		{"1\n0x1p-2\n", `line 2: "0x1p-2": write one number a line, with a decimal point, or nan for a gap`},
		{"# head\n\n1e200\n", `line 3: "1e200": too large: give finite seconds or fractions, or nan for a gap`},
		{"1\n" + strings.Repeat("9", 5000), `line 2: "": longer than 4096 characters: this is no file of numbers`},
	} {
		if _, err := ReadData(strings.NewReader(c.text)); err == nil || err.Error() != c.want {
			t.Errorf("%.20q: got %v, want %s", c.text, err, c.want)
		}
	}
}
