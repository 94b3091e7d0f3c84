// Package caliper decodes what calipers, micrometers, indicators and other
// instruments for lengths send: lines with a number, or fixed frames.
package caliper
