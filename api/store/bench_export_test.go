package store

import (
	"context"

	"gorm.io/gorm"
)

// Rows lets the tests of the bench lay the table: seats, animals and slabs that other
// use cases make.
func (s *Store) Rows(ctx context.Context, fn func(*gorm.DB) error) error {
	return s.tx(ctx, func(t tx) error { return fn(t.DB) })
}

// SlabHashOf is what a booking keeps of its My-slab page's secret.
func (s *Store) SlabHashOf(no int) string { return s.slabHash(no) }
