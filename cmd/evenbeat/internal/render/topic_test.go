package render

import (
	"strings"
	"testing"
)

// Words wrap, an item stays behind its mark, and what stands between fences keeps its
// lines.
func TestTopic(t *testing.T) {
	const page = `# A barrel

<!-- shown: all -->
A barrel holds its spring
for eight days.

## Let it down
- With a proper let-down tool, to the local rules.
- Then open it.
10. The tenth step of many.

` + "```sh\nevenbeat spring   # as it is, however long the line may be\n\n  deeper\n```\n"
	const want = `A barrel
════════
A barrel holds its spring for
eight days.

Let it down
───────────
- With a proper let-down tool,
  to the local rules.
- Then open it.
10. The tenth step of many.

  evenbeat spring   # as it is, however long the line may be

    deeper
`
	var b strings.Builder
	r := New(&b)
	r.Topic(page, 30)
	if b.String() != want || r.Err() != nil {
		t.Errorf("got\n%s\nwant\n%s\n%v", b.String(), want, r.Err())
	}
	var wide strings.Builder
	New(&wide).Topic(strings.Repeat("word ", 60)+"\n", 200)
	if first, _, _ := strings.Cut(wide.String(), "\n"); len(first) > Width {
		t.Errorf("%d columns are hard to read", len(first))
	}
}
