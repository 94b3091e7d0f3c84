// Package uncertainty propagates the errors of readings, with those that readings
// share, through the figures computed from them (JCGM 100:2008), and checks that by
// Monte Carlo (JCGM 101:2008).
//
// A sum is passed as a function of plain numbers. Nothing here knows a clock.
package uncertainty
