package store

import (
	"context"

	"gorm.io/gorm"

	"flitchbook/api/shop"
)

// Do runs SQL in a use case's transaction, for tests that need rows no use case makes.
func (s *Store) Do(ctx context.Context, sql string, args ...any) error {
	return s.tx(ctx, func(t tx) error { return t.Exec(sql, args...).Error })
}

// Get reads one value.
func Get[T any](ctx context.Context, s *Store, sql string, args ...any) (T, error) {
	var v T
	err := s.read(ctx).Raw(sql, args...).Scan(&v).Error
	return v, err
}

// SeatsChanged is what every sale and leaving calls.
func (s *Store) SeatsChanged(ctx context.Context, class shop.ClassID) error {
	return s.tx(ctx, func(t tx) error { return t.seatsChanged(class) })
}

// Reading is the handle that pages are read with.
func (s *Store) Reading(ctx context.Context) *gorm.DB { return s.read(ctx) }

// PaceFrom is from which classes the pace of a class's kind is learned, oldest first.
func (s *Store) PaceFrom(ctx context.Context, code string) (codes []string, err error) {
	c, err := take[shop.Class](s.read(ctx), "The class", "code = ?", code)
	if err != nil {
		return nil, err
	}
	past, _, err := s.runsOf(s.read(ctx), *c)
	for _, p := range past {
		codes = append(codes, p.Code)
	}
	return codes, err
}
