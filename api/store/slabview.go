package store

import (
	"context"
	"errors"
	"strings"

	"gorm.io/gorm"

	"flitchbook/api/shop"
	"flitchbook/planner/cure"
	"flitchbook/planner/unit"
)

// SlabView is a slab as the bench sees it: whose, what is on it, where it lies, what
// comes next, and whether it may.
type SlabView struct {
	shop.Slab
	ClassCode string
	Ref       string // booking, "" for the shop's own
	BookingID shop.BookingID
	Owner     string // first name of the guest, or "the shop"
	Payer     string
	Side      string // "Harl Bank HB-630, side L"
	Jar       string // name of the spice; "" while unknown
	JarCode   string
	Allergens string
	Ask       bool // the guest has yet to choose the spice
	Place     string
	PlaceKind shop.PlaceKind
	Day       int // in cure, cold days left out
	Next      shop.SlabState
	HeldSince unit.Instant
	HeldFor   string // reason of the hold
	Ticket    *shop.CureTicket
	NoKit     string // why there is no ticket, for a slab that needs one
	Weighed   bool   // a weigh-out of this cure has passed
	Bench     BenchCure
	CureDays  *CureDays // of a slab in cure that was looked up by its tag
	Hook      string
	Latest    unit.Day // last day to unbag
	Jars      []JarOnTable
}

// BenchCure is what the bench should know while curing salt is weighed.
type BenchCure struct {
	Limit   string // the limit in a line
	Caution string // of a limit nobody has approved yet
	Scale   string // in use for curing salt
	Step    unit.Weight
	Band    cure.PPM // by which half a step of it may miss
	Warn    string   // what could pass the limit
}

// JarOnTable is a spice that may be chosen at a class.
type JarOnTable struct{ Code, Name, Allergens string }

// Slab finds a slab by its tag.
func (s *Store) Slab(ctx context.Context, tag string) (*SlabView, error) {
	var v *SlabView
	err := s.tx(ctx, func(t tx) error {
		sl, err := t.slabByTag(tag)
		if err != nil {
			return err
		}
		if v, err = t.slabView(sl); err != nil || sl.State != shop.InCure {
			return err
		}
		v.CureDays, err = t.cureDays(sl)
		return err
	})
	return v, err
}

func (t tx) slabView(sl *shop.Slab) (*SlabView, error) {
	v := &SlabView{Slab: *sl, Owner: "the shop", Day: t.s.dayInCure(sl, t.today)}
	var who struct {
		Code      string
		BookingID shop.BookingID
		Number    int
		PayerName string
		Guest     string
	}
	err := t.Raw(`SELECT classes.code, coalesce(bookings.id, 0) AS booking_id, coalesce(bookings.number, 0) AS number, coalesce(bookings.payer_name, '') AS payer_name, coalesce(guests.name, '') AS guest
		FROM slabs JOIN classes ON classes.id = slabs.class_id LEFT JOIN seats ON seats.id = slabs.seat_id
		LEFT JOIN bookings ON bookings.id = seats.booking_id LEFT JOIN guests ON guests.id = seats.guest_id WHERE slabs.id = ?`, sl.ID).Scan(&who).Error
	if err != nil {
		return nil, err
	}
	v.ClassCode, v.BookingID, v.Payer = who.Code, who.BookingID, who.PayerName
	if who.BookingID != 0 {
		v.Ref, v.Owner = shop.Ref(who.Number), firstName(who.Guest)
	}
	err = t.Raw(`SELECT farms.name || ' ' || animals.tag || ', side ' || sides.which FROM bellies JOIN sides ON sides.id = bellies.side_id
		JOIN animals ON animals.id = sides.animal_id JOIN orders ON orders.id = animals.order_id JOIN farms ON farms.id = orders.farm_id WHERE bellies.id = ?`, sl.BellyID).Scan(&v.Side).Error
	if err != nil {
		return nil, err
	}
	jar, ask, err := jarOf(t.DB, sl)
	if err != nil {
		return nil, err
	}
	v.Jar, v.JarCode, v.Allergens, v.Ask = jar.Name, jar.Code, jar.Allergens, ask
	p, err := placeOf(t.DB, sl.ID)
	if err != nil {
		return nil, err
	}
	if p != nil {
		v.Place, v.PlaceKind = p.Code, p.Kind
	}
	if sl.SealedOn != 0 {
		v.Latest = sl.SealedOn + unit.Day(t.s.Rules.LatestDay)
	}
	if v.Next = shop.SlabState(nextInWords(sl.State)); shop.SlabMoves.Ends(sl.State) || sl.State == shop.OnHold {
		v.Next = ""
	}
	if sl.State == shop.OnHold {
		var h shop.Hold
		err := t.Where("state = ? AND id IN (SELECT hold_id FROM hold_slabs WHERE slab_id = ?)", shop.HoldOpen, sl.ID).Order("opened_at").Take(&h).Error
		if err != nil {
			return nil, err
		}
		v.HeldSince, v.HeldFor = h.OpenedAt, h.Reason
	}
	if err := t.viewKit(v); err != nil {
		return nil, err
	}
	return v, t.viewHook(v)
}

func (t tx) viewKit(v *SlabView) error {
	switch v.State {
	case shop.Cut, shop.Kitted:
		k, row, err := reckonTicket(t.DB, &v.Slab, v.Green, t.today)
		if e, ok := shop.AsError(err); ok {
			v.NoKit = e.Text
		} else if err != nil {
			return err
		} else {
			v.Ticket = row
			if err := t.benchCure(v, k); err != nil {
				return err
			}
		}
		if v.State == shop.Kitted && v.Ticket != nil {
			w, err := t.passedFor(*v.Ticket)
			if err != nil {
				return err
			}
			v.Weighed = w != nil
			if w != nil && v.Bench.Warn == "" {
				v.Bench.Warn = warningOf(k.Weighed(w.Cure, k.Step))
			}
		}
	default:
		var k shop.CureTicket
		err := t.Where("slab_id = ? AND superseded_at = 0", v.ID).Take(&k).Error
		if err == nil {
			v.Ticket, v.Weighed = &k, true
		} else if !errors.Is(err, gorm.ErrRecordNotFound) {
			return err
		}
	}
	if v.State != shop.Wanted && v.State != shop.Cut && v.State != shop.Kitted {
		return nil
	}
	return t.Raw("SELECT code, name, allergens FROM jars WHERE id NOT IN (SELECT jar_id FROM jars_away WHERE class_id = ?) ORDER BY id", v.ClassID).Scan(&v.Jars).Error
}

func (t tx) benchCure(v *SlabView, k cure.Ticket) error {
	b, err := house(t.DB)
	if err != nil {
		return err
	}
	scale, err := scaleInUse(t.DB, t.today)
	if err != nil {
		return err
	}
	v.Bench = BenchCure{Limit: b.words(), Caution: b.caution(), Scale: scale.Name, Step: scale.Step, Band: bandOf(k), Warn: warningOf(k.Verdict)}
	return nil
}

func (t tx) viewHook(v *SlabView) error {
	if v.State != shop.Rinsed {
		return nil
	}
	return t.Raw("SELECT places.code FROM load_slabs JOIN smoke_loads ON smoke_loads.id = load_slabs.load_id JOIN places ON places.id = load_slabs.place_id WHERE load_slabs.slab_id = ? AND smoke_loads.day = ?", v.ID, t.today).Scan(&v.Hook).Error
}

// firstName is what stands on labels and lists: never more of a name than is needed.
func firstName(name string) string {
	f, _, _ := strings.Cut(trim(name), " ")
	return f
}
