// Package going finds how a clock goes over days and weeks from comparisons of its dial
// with a reference: its rate, what the rate depends on, what a turn of the rating nut
// does, and what to expect of the coming week.
//
// A clock wanders: today's rate is much like yesterday's, and its error is the sum of
// all rates before. Plain least squares on such a record gives uncertainties two or three
// times too small. So the error of the dial is modelled as
//
//	error = start + ∫(rate + steps at acts + trend + factors) + wandering
//
// where the wandering is a random walk of the error (white frequency noise) and a random
// walk of the rate, both of unknown size. The result is an average over a grid of sizes,
// each weighted by its likelihood and by what mechanical clocks are known to do (see
// posterior.go). Where a record is short, intervals are wide because nothing in it says
// how steady the clock is.
//
// What a turn of the nut does comes from the same posterior, with what its thread allows
// as the prior (nut.go). What one turn brought is the step at it, beside what the record
// before it let expect (advice.go). A factor whose effect is neither none nor possible shows that the
// model lacks something, and then no factor's is called real (factors.go).
//
// Inside, times are in days from the first check, errors in seconds (plus = the
// clock is fast), rates in s/day (plus = the clock gains).
package going
