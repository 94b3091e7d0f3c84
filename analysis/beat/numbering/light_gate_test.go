package numbering

import (
	"math"
	"testing"
)

// Thousands of passes fit into few blocks, and an edge that was missed makes none.
func TestPassesStayFew(t *testing.T) {
	var b Blocking
	for i := range 10000 {
		at := int64(i) * 1000
		b.add(at, true)
		if i%7 != 0 { // else the other edge was missed
			b.add(at+40+int64(i%3), false)
		}
	}
	l, ok := b.Line()
	if !ok || len(b.blocks) > mostBlocks || math.Abs(l.Mid-41) > 0.05 || math.Abs(l.Slope) > 1e-6 {
		t.Errorf("%d blocks, %+v, want 41 ticks and no slope", len(b.blocks), l)
	}
}
