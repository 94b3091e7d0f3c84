// Package uncertainty reckons how sure a figure is: it carries the errors of the
// readings, with those that readings share, through the sums that are made of
// them (JCGM 100:2008), and checks that by Monte Carlo (JCGM 101:2008).
//
// A sum is passed as a function of plain numbers. Nothing here knows a clock.
package uncertainty
