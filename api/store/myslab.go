package store

import (
	"context"

	"gorm.io/gorm"

	"flitchbook/api/shop"
	"flitchbook/planner/cure"
	"flitchbook/planner/unit"
)

// MySlab is what a party may know of its slabs. It names no other party, no staff and
// no place in the shop's rooms.
type MySlab struct {
	BookingID shop.BookingID
	Ref       string
	Class     string
	StartsAt  unit.Instant
	Fetches   string // who fetches: the payer's first name, or whoever is named
	Named     bool   // somebody else is named
	Sliced    bool
	MayChange bool // slice or whole: until smoke day
	Slabs     []MyPiece
	Ready     bool     // every slab that is still to be fetched lies ready
	From, To  unit.Day // ready about; To later than From while a new date is not settled
	Checked   bool     // something is being checked: no date
	Done      bool     // all fetched
	Lost      bool     // nothing is left to come: dumped, and not cured again yet
	Late      bool     // its day has passed and it is not there yet
	Estimate  unit.Day // before sealing
}

// MyPiece is one slab.
type MyPiece struct {
	Tag      string
	Name     string // first name of its guest
	Spice    string
	Stage    int // 0 not yet sealed, 1 sealed, 2 curing, 3 smoked, 4 packed, 5 on the shelf
	Day      int // in cure
	Of       int
	Checked  bool
	Lost     bool             // dumped: the shop has written
	Choice   shop.AmendChoice // what the party chose for it then
	Back     bool             // its money is on its way back
	Settled  string           // how another class was settled
	Gone     bool             // fetched
	GivenUp  bool             // never fetched
	Frozen   bool
	AsUsual  bool // what is left of it is what is left of bacon as a rule (R36)
	Green    unit.Weight
	Finished unit.Weight
	UseBy    unit.Day
	Farm     string
	Side     string // "left" or "right" of its pig; "" where that is not known
	Note     string // the party's own, for the next time
}

// stageOf puts a slab's state into the five plain stages of the page.
func stageOf(sl *shop.Slab, today unit.Day) int {
	st := sl.State
	if st == shop.OnHold {
		st = sl.HeldFrom
	}
	switch st {
	case shop.InCure:
		if sl.SealedOn == today {
			return 1
		}
		return 2
	case shop.Rinsed, shop.Unproven: // which slab it is, is the shop's to find out (R35)
		return 2
	case shop.InSmoke, shop.Resting:
		return 3
	case shop.Packed:
		return 4
	case shop.OnShelf, shop.InFreezer, shop.Collected:
		return 5
	}
	return 0
}

// slabPageDays is how long after its class a My-slab page is shown.
const slabPageDays = 400

// bySlabSecret finds the party a My-slab address belongs to, by its hash.
func (s *Store) bySlabSecret(ctx context.Context, secret string) (*shop.Booking, error) {
	if len(trim(secret)) < 20 {
		return nil, shop.Missing("This page")
	}
	return take[shop.Booking](s.read(ctx), "This page", "slab_hash = ? AND class_id IN (SELECT id FROM classes WHERE day >= ?)", hashOf(secret), s.Today()-slabPageDays)
}

// MySlab reads a party's slabs by the secret of its page.
func (s *Store) MySlab(ctx context.Context, secret string) (*MySlab, error) {
	b, err := s.bySlabSecret(ctx, secret)
	if err != nil {
		return nil, err
	}
	db := s.read(ctx)
	c, err := take[shop.Class](db, "The class", "id = ?", b.ClassID)
	if err != nil {
		return nil, err
	}
	m := &MySlab{BookingID: b.ID, Ref: b.Ref(), Class: c.Title, StartsAt: c.StartsAt, Fetches: firstName(b.PayerName), Sliced: b.Sliced}
	if b.Collector != "" {
		m.Fetches, m.Named = b.Collector, true
	}
	slabs, err := many[shop.Slab](db, "number", "seat_id IN (SELECT id FROM seats WHERE booking_id = ?) AND state <> ?", b.ID, shop.Replaced)
	if err != nil {
		return nil, err
	}
	if m.Estimate, err = s.keptReady(db, b, c); err == nil && m.Estimate == 0 {
		m.Estimate, err = s.readyAbout(db, c.Day)
	}
	if err != nil {
		return nil, err
	}
	amends, err := many[shop.Amend](db, "slab_id", "booking_id = ?", b.ID)
	if err != nil {
		return nil, err
	}
	waiting, ready := 0, 0
	for i := range slabs {
		sl := &slabs[i]
		p, err := s.myPiece(db, sl)
		if err != nil {
			return nil, err
		}
		for _, a := range amends {
			if a.SlabID == sl.ID {
				p.Choice, p.Back, p.Settled = a.Choice, a.Choice == shop.AmendMoney, a.Note
			}
		}
		m.Lost = m.Lost || p.Lost
		m.Slabs = append(m.Slabs, p)
		if p.Lost || p.Gone {
			continue
		}
		waiting++
		m.Checked = m.Checked || p.Checked
		if p.Stage == 5 {
			ready++
		}
		if p.Stage < 3 && !p.Checked {
			m.MayChange = true
		}
		m.From, m.To = max(m.From, sl.ReadyOn), max(m.To, expected(sl))
	}
	m.Ready = waiting > 0 && ready == waiting && !m.Checked
	m.Lost = m.Lost && waiting == 0
	m.Done = len(slabs) > 0 && waiting == 0 && !m.Lost
	if m.To < m.From && m.To != 0 {
		m.From, m.To = m.To, m.From
	}
	if m.From == 0 && len(slabs) > 0 && !m.Lost {
		m.From = m.Estimate
	}
	m.Late = !m.Ready && !m.Done && !m.Lost && m.From != 0 && max(m.From, m.To) < s.Today()
	return m, nil
}

func (s *Store) myPiece(db *gorm.DB, sl *shop.Slab) (MyPiece, error) {
	p := MyPiece{Tag: sl.Tag, Stage: stageOf(sl, s.Today()), Day: s.dayInCure(sl, s.Today()), Of: s.Rules.CureDays, Green: sl.Green, Finished: sl.Finished, UseBy: sl.UseBy,
		Checked: sl.State == shop.OnHold, Lost: sl.State == shop.Dumped, Gone: sl.State == shop.Collected || sl.State == shop.GivenUp, GivenUp: sl.State == shop.GivenUp, Frozen: sl.State == shop.InFreezer}
	var name string
	if err := db.Raw("SELECT guests.name FROM guests JOIN seats ON seats.guest_id = guests.id WHERE seats.id = ?", sl.SeatID).Scan(&name).Error; err != nil {
		return p, err
	}
	p.Name = firstName(name)
	if err := db.Raw("SELECT note FROM picks WHERE seat_id = ? AND slot = ?", sl.SeatID, sl.Slot).Scan(&p.Note).Error; err != nil {
		return p, err
	}
	jar, ask, err := jarOf(db, sl)
	if err != nil {
		return p, err
	}
	if p.Spice = jar.Name; ask {
		p.Spice = ""
	}
	if sl.Finished > 0 {
		p.AsUsual = cure.CheckFinished(sl.Green, sl.Finished, s.Rules.FinishMin, s.Rules.FinishMax).Answer == cure.OK
	}
	var from struct{ Name, Which string }
	err = db.Raw(`SELECT farms.name, sides.which FROM bellies JOIN sides ON sides.id = bellies.side_id JOIN animals ON animals.id = sides.animal_id JOIN orders ON orders.id = animals.order_id
		JOIN farms ON farms.id = orders.farm_id WHERE bellies.id = ?`, sl.BellyID).Scan(&from).Error
	p.Farm, p.Side = from.Name, map[string]string{"L": "left", "R": "right"}[from.Which]
	return p, err
}

// NameCollector lets the holder of the My-slab address say who fetches; "" is the payer
// again.
func (s *Store) NameCollector(ctx context.Context, secret, name string) error {
	b, err := s.bySlabSecret(ctx, secret)
	if err != nil {
		return err
	}
	name = trim(name)
	if len([]rune(name)) > 80 {
		return &shop.Error{Kind: shop.Invalid, Code: "invalid", Text: "That name is too long.", Fields: map[string]string{"collector": "Please write a name of at most 80 letters."}}
	}
	return s.tx(ctx, func(t tx) error {
		if err := t.Model(&shop.Booking{}).Where("id = ?", b.ID).Updates(map[string]any{"collector": name, "revision": gorm.Expr("revision + 1")}).Error; err != nil {
			return err
		}
		return t.note(shop.Customer("payer of "+b.Ref()), "booking", int64(b.ID), "collector", b.Collector, name, "")
	})
}

// ChooseSliced says whether a party's bacon is sliced or left whole; it is open until its
// slabs are smoked.
func (s *Store) ChooseSliced(ctx context.Context, secret string, sliced bool) error {
	m, err := s.MySlab(ctx, secret)
	if err != nil {
		return err
	}
	return s.tx(ctx, func(t tx) error {
		if err := t.lock("bookings", int64(m.BookingID)); err != nil {
			return err
		}
		var n int64
		err := t.Model(&shop.Slab{}).Where("seat_id IN (SELECT id FROM seats WHERE booking_id = ?) AND state IN ?", m.BookingID,
			[]shop.SlabState{shop.InSmoke, shop.Resting, shop.Packed, shop.OnShelf, shop.InFreezer, shop.Collected}).Count(&n).Error
		if err != nil {
			return err
		}
		if n > 0 {
			return shop.Stop("smoked", "Your slab is smoked already; ask at the counter.")
		}
		return t.Model(&shop.Booking{}).Where("id = ?", m.BookingID).Updates(map[string]any{"sliced": sliced, "revision": gorm.Expr("revision + 1")}).Error
	})
}
