package store

import (
	"context"

	"flitchbook/api/shop"
)

// Tell leaves a notice as a use case would.
func (s *Store) Tell(ctx context.Context, n shop.Notice, f shop.Facts) error {
	return s.tx(ctx, func(t tx) error { return t.tell(n, f) })
}

// SetEntry writes a calendar entry as a use case would.
func (s *Store) SetEntry(ctx context.Context, e shop.Entry) error {
	return s.tx(ctx, func(t tx) error { _, err := t.setEntry(e); return err })
}

// CancelEntry marks one called off.
func (s *Store) CancelEntry(ctx context.Context, uid string) error {
	return s.tx(ctx, func(t tx) error { return t.cancelEntry(uid) })
}
