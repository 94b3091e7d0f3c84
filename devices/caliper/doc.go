// Package caliper decodes what calipers, micrometers, indicators and other
// instruments for lengths send: lines with a number, or fixed frames. A reading
// carries the text as received. What makes no frame comes back as a fault with its
// text.
package caliper
