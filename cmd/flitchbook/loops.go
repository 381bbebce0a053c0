package main

import (
	"context"
	"time"

	"flitchbook/api/shop"
	"flitchbook/api/store"
)

// A sender hands one notice to the world.
type sender = func(context.Context, shop.Notice, shop.Facts) error

// runDue does what falls due, at the moment it does and every so often besides, until
// ctx ends. A failure is logged and tried again.
func runDue(ctx context.Context, st *store.Store, every time.Duration) {
	for ctx.Err() == nil {
		if err := st.RunDue(ctx); err != nil && ctx.Err() == nil {
			st.LogFault("what is due", err)
		}
		wait := every
		if next, err := st.NextDue(ctx); err == nil && next != 0 {
			// Not at once again: what is due and failed would be tried without a pause.
			wait = min(wait, max(next.Time().Sub(st.Now().Time()), every/10))
		}
		pause(ctx, wait, nil)
	}
}

// deliver sends notices as they become due, until ctx ends.
func deliver(ctx context.Context, st *store.Store, send sender, every time.Duration) {
	for ctx.Err() == nil {
		if _, err := st.Deliver(ctx, send); err != nil && ctx.Err() == nil {
			st.LogFault("sending", err)
		}
		pause(ctx, every, st.Wake())
	}
}

func pause(ctx context.Context, d time.Duration, wake <-chan struct{}) {
	t := time.NewTimer(d)
	defer t.Stop()
	select {
	case <-ctx.Done():
	case <-t.C:
	case <-wake:
	}
}
