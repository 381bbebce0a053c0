package store

import (
	"context"

	"flitchbook/api/shop"
	"flitchbook/planner/unit"
)

// Tags lists the tags of slabs in a state, by class and number; class "" means all.
func (s *Store) Tags(ctx context.Context, class string, state shop.SlabState) ([]string, error) {
	var tags []string
	q := s.read(ctx).Table("slabs").Joins("JOIN classes ON classes.id = slabs.class_id").Where("slabs.state = ?", state)
	if class != "" {
		q = q.Where("classes.code = ?", class)
	}
	err := q.Order("classes.starts_at, classes.id, slabs.number").Pluck("slabs.tag", &tags).Error
	return tags, err
}

// OrderNumber is the number of the standing order for a species on a kill day.
func (s *Store) OrderNumber(ctx context.Context, kill unit.Day, species string) (int, error) {
	o, err := take[shop.Order](s.read(ctx), "An order for "+species+" killed on "+kill.Show(),
		"species = ? AND state <> ? AND kill_day_id IN (SELECT id FROM kill_days WHERE day = ?)", species, shop.OrderOff, kill)
	if err != nil {
		return 0, err
	}
	return o.Number, nil
}
