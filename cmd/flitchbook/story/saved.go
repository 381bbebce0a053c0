package story

import (
	"maps"
	"slices"

	"flitchbook/planner/unit"
)

// Saved is how far a player has come. Beside a copy of the records it is enough to go on
// from there with other records of the same content.
type Saved struct {
	ahead  []event
	codes  map[string]string
	bench  map[string]bool
	probed unit.Instant
}

// Save notes how far the player has come.
func (p *Player) Save() Saved {
	p.mu.Lock()
	defer p.mu.Unlock()
	return Saved{slices.Clone(p.ahead), maps.Clone(p.codes), maps.Clone(p.bench), p.probed}
}

// Resume readies a player for the rest of a story that was saved.
func Resume(p *Player, s Saved) (*Player, error) {
	p, err := Begin(p)
	if err != nil {
		return nil, err
	}
	p.ahead, p.codes, p.bench, p.probed = slices.Clone(s.ahead), maps.Clone(s.codes), maps.Clone(s.bench), s.probed
	return p, nil
}
