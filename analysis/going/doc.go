// Package going reckons how a clock goes over days and weeks from comparisons of
// its dial with a reference: its rate, what the rate goes with, what a turn of the
// rating nut does, and what to expect of the week to come.
//
// A clock wanders: its rate of today is much like yesterday's, and its error is
// the sum of all rates before. Bare least squares on such a record promises two or
// three times too much. So the error of the dial is taken here as
//
//	error = start + ∫(rate + steps at acts + trend + factors) + wandering
//
// where the wandering is a random walk of the error (white noise of rate) and a
// random walk of the rate, both of unknown size; the sizes are not fixed at a best
// guess but summed over, each weighted by how well it fits and by what mechanical
// clocks are known to do (see wander.go). Where a record is short, intervals are
// wide because nothing in it says how steady the clock is.
//
// Inside, times are in days from the first check, errors in seconds (plus = the
// clock is fast), rates in s/day (plus = the clock gains).
package going
