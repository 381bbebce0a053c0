// Package story plays the invented shop's story through the same use cases as the
// pages: nothing is put into the records by another way. The demo is a shop at some
// moment of it; the tests start from there.
package story

import (
	"context"
	"fmt"
	"log/slog"
	"sync"
	"time"

	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/planner/unit"
	"flitchbook/testdata/scenario"
)

// A Clock can be set; the store reads it.
type Clock interface {
	Set(unit.Instant)
}

// Player moves a shop through its story. It is safe for several goroutines; moves wait
// for one another.
type Player struct {
	Store  *store.Store
	Clock  Clock
	Send   func(context.Context, shop.Notice, shop.Facts) error // nil: notices wait
	Log    *slog.Logger
	Strict bool // an event that is refused stops the story; else it is logged and skipped

	mu    sync.Mutex
	ahead []event
	staff map[string]shop.Actor
	codes map[string]string // name of a voucher in the story to its code
	bench map[string]bool   // days whose scales were checked

	spans  []span       // whose readings the story tells
	probed unit.Instant // thermometers have written up to here
}

type event struct {
	at unit.Instant
	scenario.Event
}

// Begin readies a player for a furnished shop's whole story.
func Begin(p *Player) (*Player, error) {
	if p.Log == nil {
		p.Log = slog.New(slog.DiscardHandler)
	}
	p.codes, p.bench = map[string]string{}, map[string]bool{}
	p.staff = map[string]shop.Actor{}
	for i, a := range scenario.Shop().Accounts {
		p.staff[a.Name] = shop.Actor{Kind: "staff", ID: shop.AccountID(i + 1), Name: a.Name, Role: a.Role}
	}
	for _, e := range scenario.Story() {
		at, err := p.moment(e.At)
		if err != nil {
			return nil, err
		}
		p.ahead = append(p.ahead, event{at, e})
	}
	var err error
	p.spans, err = p.told()
	return p, err
}

// moment reads a time on the shop's clocks.
func (p *Player) moment(s string) (unit.Instant, error) {
	t, err := time.ParseInLocation("2006-01-02 15:04", s, p.Store.Loc)
	if err != nil {
		return 0, fmt.Errorf("story: %w", err)
	}
	return unit.InstantOf(t), nil
}

// First is the moment the story begins.
func (p *Player) First() unit.Instant { return p.ahead[0].at }

// Moment is a turn of the story that lies ahead.
type Moment struct {
	At   unit.Instant
	Text string
}

// To moves the clock forward to a moment. Whatever falls due and whatever the story
// tells on the way happens at its own time and in its order. Going back is refused.
func (p *Player) To(ctx context.Context, to unit.Instant) error {
	p.mu.Lock()
	defer p.mu.Unlock()
	if to < p.Store.Now() {
		return shop.Bad("clock", "The clock only goes forward; it is %s now. To go back, start the demo again.", p.Store.Now().Show(p.Store.Loc))
	}
	if to > p.Store.Now().Add(3*365*24*time.Hour) {
		return shop.Bad("clock", "That is more than three years ahead.")
	}
	for {
		at, err := p.next(ctx, to)
		if err != nil {
			return err
		}
		if at > p.Store.Now() {
			p.Clock.Set(at)
		}
		if err := p.probes(ctx); err != nil {
			return err
		}
		if err := p.due(ctx); err != nil {
			return err
		}
		for len(p.ahead) > 0 && p.ahead[0].at <= at {
			e := p.ahead[0]
			p.ahead = p.ahead[1:]
			if err := p.happen(ctx, e); err != nil {
				err = fmt.Errorf("story, %s, %s %s: %w", e.Event.At, e.Do, e.Cls+e.Code, err)
				if p.Strict {
					return err
				}
				p.Log.Info("the story went another way", "why", err.Error())
			}
		}
		if err := p.due(ctx); err != nil {
			return err
		}
		if at >= to {
			return nil
		}
	}
}

// next is the earliest of: the next event, the next thing due, the end. Something due
// that stays due (a mail that cannot be sent) does not stop the clock.
func (p *Player) next(ctx context.Context, to unit.Instant) (unit.Instant, error) {
	at := to
	if len(p.ahead) > 0 {
		at = min(at, max(p.ahead[0].at, p.Store.Now()))
	}
	due, err := p.Store.NextDue(ctx)
	if err != nil {
		return 0, err
	}
	if due > p.Store.Now() {
		at = min(at, due)
	}
	return at, nil
}

func (p *Player) due(ctx context.Context) error {
	if err := p.Store.RunDue(ctx); err != nil {
		return err
	}
	if p.Send == nil {
		return nil
	}
	_, err := p.Store.Deliver(ctx, p.Send)
	return err
}

// by is the actor of an event: one of the staff, or a customer.
func (p *Player) by(e event) shop.Actor {
	if a, ok := p.staff[e.By]; ok {
		return a
	}
	return shop.Customer("visitor")
}

// As is one of the shop's people by name.
func (p *Player) As(name string) shop.Actor { return p.staff[name] }
