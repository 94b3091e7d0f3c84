// Package spring judges a mainspring in its barrel: whether it fits, how certain that is,
// what it does for the clock, and what else would fit.
//
// Fit is the one entrance; its Result holds figures, verdict, the reasons in
// words, the working on paper, cautions and the next thing to do. Geometry is in
// geometry.go, the verdict in verdict.go, and so on; limits come from outside.
package spring
