package mail

import (
	"context"
	"time"

	"flitchbook/api/shop"
)

// A Sender takes finished messages. It returns nil only when the message is in other
// hands for good: with the mail server, or in the folder.
type Sender interface {
	Send(ctx context.Context, m Message) error
}

// Deliverer composes a notice and hands it to out. Its result is what the store's
// Deliver asks for.
func Deliverer(h House, out Sender) func(context.Context, shop.Notice, shop.Facts) error {
	return func(ctx context.Context, n shop.Notice, f shop.Facts) error {
		m, err := Compose(n, f, h)
		if err != nil {
			return err
		}
		return out.Send(ctx, m)
	}
}

// Loop delivers whatever is due, at once, then whenever it is woken and after every
// tick, until ctx ends. What goes wrong is told to fault and tried again at the next
// tick; when a single notice is tried again is not decided here. A message under way
// when ctx ends is finished first.
func Loop(ctx context.Context, deliver func(context.Context) error, wake <-chan struct{}, tick time.Duration, fault func(error)) {
	t := time.NewTicker(tick)
	defer t.Stop()
	for {
		if err := deliver(ctx); err != nil && ctx.Err() == nil {
			fault(err)
		}
		select {
		case <-ctx.Done():
			return
		case <-wake:
		case <-t.C:
		}
	}
}
