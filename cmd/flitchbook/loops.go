package main

import (
	"context"
	"time"

	"flitchbook/api/store"
)

// runDue does what falls due, at the moment it does and every so often besides, until
// ctx ends. A failure is logged and tried again.
func runDue(ctx context.Context, st *store.Store, every time.Duration) {
	t := time.NewTimer(0)
	defer t.Stop()
	for {
		select {
		case <-ctx.Done():
			return
		case <-t.C:
		}
		if err := st.RunDue(ctx); err != nil && ctx.Err() == nil {
			st.LogFault("what is due", err)
		}
		wait := every
		if next, err := st.NextDue(ctx); err == nil && next != 0 {
			// Not at once again: what is due and failed would be tried without a pause.
			wait = min(wait, max(next.Time().Sub(st.Now().Time()), every/10))
		}
		t.Reset(wait)
	}
}
