package store

import (
	"context"
	"fmt"

	"flitchbook/planner/unit"
)

// A dueTask is something that happens at a moment without a person: a hold ends, an
// offer lapses, an order-by passes. next is the earliest moment it has something to do
// (0: nothing ahead); run does whatever is due now and may be called at any time, by
// several instances at once.
type dueTask struct {
	name string
	next func(context.Context, *Store) (unit.Instant, error)
	run  func(context.Context, *Store) error
}

// RunDue does everything that is due by the store's clock, notices excepted.
func (s *Store) RunDue(ctx context.Context) error {
	for _, d := range dueTasks {
		if err := d.run(ctx, s); err != nil {
			return fmt.Errorf("%s: %w", d.name, err)
		}
	}
	return nil
}

// NextDue is the earliest moment at which something becomes due, notices included, or
// 0 when nothing is ahead. A clock that is moved forward stops at each.
func (s *Store) NextDue(ctx context.Context) (unit.Instant, error) {
	var first unit.Instant
	for _, d := range dueTasks {
		at, err := d.next(ctx, s)
		if err != nil {
			return 0, fmt.Errorf("%s: %w", d.name, err)
		}
		if at != 0 && (first == 0 || at < first) {
			first = at
		}
	}
	var at *unit.Instant
	err := s.read(ctx).Raw("SELECT min(due_at) FROM notices WHERE state = 'waiting to send'").Scan(&at).Error
	if err != nil {
		return 0, err
	}
	if at != nil && *at != 0 && (first == 0 || *at < first) {
		first = *at
	}
	return first, nil
}
