package simulate

import (
	"context"
	"fmt"
	"io"
	"iter"
	"time"
)

// Serve plays a script (time in ns since Serve was called, bytes) to w in real
// time, for someone who tries the program without hardware. It blocks until the
// script ends (nil), ctx ends (its error) or w fails. A Write that waits because
// nobody reads is freed by closing w.
func Serve(ctx context.Context, w io.Writer, script iter.Seq2[int64, []byte]) error {
	// time.Since keeps its step with the monotonic clock; the timer is set anew
	// from it for each event, so that delays don't add up.
	began := time.Now()
	timer := time.NewTimer(0)
	defer timer.Stop()
	for at, bytes := range script {
		timer.Reset(time.Duration(at) - time.Since(began))
		select {
		case <-timer.C:
		case <-ctx.Done():
			return ctx.Err()
		}
		if _, err := w.Write(bytes); err != nil {
			return fmt.Errorf("simulated instrument: %w", err)
		}
	}
	return nil
}
