package plots

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"evenbeat/devices/quantity"
)

// evenTicks are ticks at 1, 2 or 5 times a power of ten, labelled to the decimals
// of the step. The zero value puts about five on an axis.
type evenTicks struct {
	aim  int  // about how many; 0 = 5
	sign bool // a plus before positive numbers
}

func (e evenTicks) Ticks(lo, hi float64) []tick {
	aim := e.aim
	if aim == 0 {
		aim = 5
	}
	raw := (hi - lo) / float64(aim)
	if !(raw > 0) || math.IsInf(raw, 0) {
		return nil
	}
	power := math.Floor(math.Log10(raw))
	step := math.Pow(10, power)
	for _, m := range []float64{10, 5, 2} {
		if raw > step*m/math.Sqrt2 {
			step *= m
			break
		}
	}
	decimals := max(0, -int(math.Floor(math.Log10(step)+1e-9)))
	var ticks []tick
	first := math.Ceil(lo/step - 1e-9)
	for i := range 4 * aim {
		v := (first + float64(i)) * step
		if v > hi+step*1e-9 {
			break
		}
		ticks = append(ticks, tick{v, e.label(v, decimals)})
	}
	return ticks
}

func (e evenTicks) label(v float64, decimals int) string {
	s := strconv.FormatFloat(v, 'f', decimals, 64)
	if strings.Trim(s, "-0.") == "" {
		return "0" // never a signed zero
	}
	if e.sign && v > 0 {
		return "+" + s
	}
	return quantity.Minus(s)
}

// decadeTicks are for a logarithmic axis. They have labels at powers of ten, also at 2 and 5
// times each if fewer than two powers lie on the axis, and at 3 times if none does, so that
// every range has one. The other whole multiples get a small mark.
type decadeTicks struct{}

func (decadeTicks) Ticks(lo, hi float64) []tick {
	if !(lo > 0 && hi > lo) || math.IsInf(hi, 0) {
		return nil
	}
	from, to := int(math.Floor(math.Log10(lo))), int(math.Ceil(math.Log10(hi)))
	powers := 0 // of ten on the axis
	for e := from; e <= to; e++ {
		if p := math.Pow10(e); p >= lo && p <= hi {
			powers++
		}
	}
	var ticks []tick
	for e := from; e <= to; e++ {
		for m := 1; m <= 9; m++ {
			v := float64(m) * math.Pow10(e)
			if v >= lo*(1-1e-9) && v <= hi*(1+1e-9) {
				ticks = append(ticks, tick{v, decadeLabel(m, e, powers)})
			}
		}
	}
	return ticks
}

// decadeLabel returns the label of m·10^e on an axis with so many powers of ten; ""
// for a small mark.
func decadeLabel(m, e, powers int) string {
	every := 1 + powers/9
	if m == 1 && (powers < 3 || e%every == 0) ||
		powers < 2 && (m == 2 || m == 5) ||
		powers == 0 && m == 3 {
		return scientific(m, e)
	}
	return ""
}

// scientific writes m·10^e in full from 0.001 to 100 000, and beyond as 1e−4, since the
// typeface has no raised minus.
func scientific(m, e int) string {
	switch {
	case e >= 0 && e <= 5:
		return grouped(strconv.Itoa(m) + strings.Repeat("0", e))
	case e < 0 && e >= -3:
		return strconv.FormatFloat(float64(m)*math.Pow10(e), 'f', -e, 64)
	}
	return quantity.Minus(fmt.Sprintf("%de%d", m, e))
}

// grouped sets a thin gap before each three digits of a number above 9999.
func grouped(digits string) string {
	if len(digits) < 5 {
		return digits
	}
	return grouped(digits[:len(digits)-3]) + "\u00a0" + digits[len(digits)-3:]
}

// dayTicks are for an axis in days since start. They are at midnight, at the first of a
// month, or on the hour, in the clock's own zone.
type dayTicks struct {
	start time.Time // in the zone in which the labels are read
	bare  bool      // marks without labels, for the upper of two panels
	few   bool      // half as many, for a narrow figure
}

func (d dayTicks) Ticks(lo, hi float64) []tick {
	if !(hi > lo) || hi-lo > 400*366 {
		return nil
	}
	from, to := d.at(lo), d.at(hi)
	axis := hi - lo
	if d.few {
		axis *= 2
	}
	next, form := calendar(from, axis)
	var ticks []tick
	for t := next(time.Time{}); !t.After(to) && len(ticks) < 64; t = next(t) {
		if t.Before(from) {
			continue
		}
		tick := tick{t.Sub(d.start).Hours() / 24, t.Format(form)}
		if d.bare {
			tick.label = ""
		}
		ticks = append(ticks, tick)
	}
	return ticks
}

func (d dayTicks) at(days float64) time.Time {
	whole := math.Floor(days)
	return d.start.Add(time.Duration(whole) * 24 * time.Hour).
		Add(time.Duration((days - whole) * 24 * float64(time.Hour)))
}

// calendar returns how to step from one tick to the next on an axis of so many days, and
// the form of the labels. For the zero time the step returns the first tick.
func calendar(from time.Time, days float64) (next func(time.Time) time.Time, form string) {
	day := time.Date(from.Year(), from.Month(), from.Day(), 0, 0, 0, 0, from.Location())
	for _, h := range []int{1, 3, 6} {
		if days*24 <= 8*float64(h) {
			return stepper(day, func(t time.Time) time.Time { return t.Add(time.Duration(h) * time.Hour) }), "15:04"
		}
	}
	for _, n := range []int{1, 2, 7, 14} {
		if days <= 8.5*float64(n) {
			return stepper(day, func(t time.Time) time.Time { return t.AddDate(0, 0, n) }), "2 Jan"
		}
	}
	month := time.Date(from.Year(), 1, 1, 0, 0, 0, 0, from.Location())
	for _, n := range []int{1, 2, 3, 6} {
		if days <= 260*float64(n) {
			return stepper(month, func(t time.Time) time.Time { return t.AddDate(0, n, 0) }), "Jan 2006"
		}
	}
	years := max(1, int(days/365/8))
	year := time.Date(from.Year(), 1, 1, 0, 0, 0, 0, from.Location())
	return stepper(year, func(t time.Time) time.Time { return t.AddDate(years, 0, 0) }), "2006"
}

func stepper(first time.Time, step func(time.Time) time.Time) func(time.Time) time.Time {
	return func(t time.Time) time.Time {
		if t.IsZero() {
			return first
		}
		return step(t)
	}
}
