package store_test

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"gorm.io/gorm"
	"pgregory.net/rapid"

	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/api/store/storetest"
	"flitchbook/planner/heat"
	"flitchbook/planner/unit"
)

var threadClasses = []string{"B1", "B2"}

func (m *thread) commands() map[string]func(*rapid.T) {
	count := func(name string, f func() bool) func(*rapid.T) {
		return func(g *rapid.T) {
			m.g = g
			if f() {
				m.done[name]++
			}
		}
	}
	out := map[string]func(*rapid.T){"": func(g *rapid.T) { m.g = g; m.holds() }}
	for name, f := range map[string]func() bool{
		"book":           func() bool { return m.book(m.class()) },
		"pay":            func() bool { return m.ofBooking(func(id shop.BookingID) bool { return m.payIn(id, m.cents()) }) },
		"pay what's due": func() bool { return m.ofBooking(func(id shop.BookingID) bool { return m.payIn(id, 0) }) },
		"begin paying": func() bool {
			return m.ofBooking(func(id shop.BookingID) bool { _, err := m.BeginPaying(m.Ctx, id); return m.did(err) })
		},
		"let go": func() bool { return m.ofBooking(m.letGo) },
		"move":   func() bool { return m.ofBooking(m.moveTo) },
		"wait":   m.wait,
		"take": func() bool {
			return m.ofBooking(func(id shop.BookingID) bool { return m.did(m.TakeOffer(m.Ctx, m.by, id)) })
		},
		"stop wait": func() bool { return m.ofBooking(m.stopWaiting) },
		"pick":      func() bool { return m.ofBooking(m.pick) },
		"order":     func() bool { return m.buy(m.class(), rapid.IntRange(0, 2).Draw(m.g, "animals")) },
		"answer":    func() bool { return m.ofOrder(m.answer) },
		"deliver":   func() bool { return m.ofOrder(m.receive) },
		"cut list": func() bool {
			return m.ofOrder(func(id shop.OrderID) bool { _, err := m.MakeCutList(m.Ctx, m.by, id); return m.did(err) })
		},
		"drop demo":   func() bool { return m.did(m.DropDemo(m.Ctx, m.by, m.classID(), 1)) },
		"take unsold": func() bool { return m.did(m.TakeUnsold(m.Ctx, m.by, m.classID(), 1)) },
		"call off order": func() bool {
			return m.ofOrder(func(id shop.OrderID) bool { return m.did(m.CallOffOrder(m.Ctx, m.by, id, "too dear")) })
		},
		"go ahead":      func() bool { return m.did(m.GoAhead(m.Ctx, m.by, m.class())) },
		"taught":        func() bool { return m.did(m.MarkTaught(m.Ctx, m.by, m.class())) },
		"call off":      m.callOff,
		"answer party":  func() bool { return m.ofBooking(m.answerParty) },
		"at the door":   func() bool { return m.ofBooking(m.door) },
		"next step":     func() bool { return m.ofSlab(m.nextStep) },
		"next step too": func() bool { return m.ofSlab(m.nextStep) },
		"all next":      func() bool { return m.everySlab(m.nextStep) },
		"any step":      func() bool { return m.ofSlab(m.anyStep) },
		"swap":          func() bool { return m.ofSlab(m.swap) },
		"hold":          func() bool { return m.ofSlab(m.hold) },
		"warm room":     m.warm,
		"release":       func() bool { return m.ofHold(m.Release) },
		"dump":          func() bool { return m.ofHold(m.Dump) },
		"clock":         m.forward,
		"told":          func() bool { m.must(m.RunDue(m.Ctx)); m.post(); return true },
	} {
		out[name] = count(name, f)
	}
	return out
}

func (m *thread) class() string { return rapid.SampledFrom(threadClasses).Draw(m.g, "class") }

func (m *thread) classID() shop.ClassID {
	var c []shop.Class
	m.rows(&c, "code = ?", m.class())
	return c[0].ID
}

func (m *thread) cents() unit.Money {
	return unit.Money(rapid.SampledFrom([]int{1, 50_00, 95_00, 190_00, 500_00}).Draw(m.g, "cents"))
}

// of* pick one thing there is; nothing is done while there is none.
func (m *thread) ofBooking(f func(shop.BookingID) bool) bool {
	return len(m.bookings) > 0 && f(rapid.SampledFrom(m.bookings).Draw(m.g, "booking"))
}

func (m *thread) ofOrder(f func(shop.OrderID) bool) bool {
	return len(m.orders) > 0 && f(rapid.SampledFrom(m.orders).Draw(m.g, "order"))
}

func (m *thread) slabs() []shop.Slab {
	var s []shop.Slab
	m.rows(&s, "1 = 1")
	return s
}

func (m *thread) ofSlab(f func(shop.Slab) bool) bool {
	all := m.slabs()
	return len(all) > 0 && f(all[rapid.IntRange(0, len(all)-1).Draw(m.g, "slab")])
}

func (m *thread) everySlab(f func(shop.Slab) bool) (any bool) {
	for _, s := range m.slabs() {
		any = f(s) || any
	}
	return any
}

func (m *thread) party(class string) shop.NewBooking {
	n := len(m.bookings) + 1
	b := shop.NewBooking{Class: class, PayerName: fmt.Sprintf("Payer %d", n), PayerEmail: fmt.Sprintf("payer%d@post.example.test", n)}
	for i := range rapid.IntRange(1, 3).Draw(m.g, "people") {
		b.People = append(b.People, shop.NewPerson{Payer: i == 0, Second: rapid.IntRange(0, 5).Draw(m.g, "second slab") == 5})
	}
	return b
}

func (m *thread) took(v *store.BookingView, err error) bool {
	if !m.did(err) {
		return false
	}
	if !slices.Contains(m.bookings, v.ID) {
		m.bookings = append(m.bookings, v.ID)
	}
	return true
}

func (m *thread) book(class string) bool {
	v, err := m.Book(m.Ctx, shop.Customer("visitor"), m.party(class), m.once("book "+class))
	return m.took(v, err)
}

func (m *thread) wait() bool {
	v, err := m.JoinWaiting(m.Ctx, shop.Customer("visitor"), m.party(m.class()), store.Once{})
	return m.took(v, err)
}

func (m *thread) stopWaiting(id shop.BookingID) bool {
	return m.did(m.LeaveWaiting(m.Ctx, m.by, id))
}

// payIn pays a sum, or with 0 what is due now.
func (m *thread) payIn(id shop.BookingID, cents unit.Money) bool {
	if cents == 0 {
		v, err := m.BookingByID(m.Ctx, id)
		m.must(err)
		if cents = v.DueNow; cents <= 0 {
			return false
		}
	}
	key := fmt.Sprintf("till/%d/%d", id, rapid.IntRange(1, 4).Draw(m.g, "notice"))
	p, err := m.Pay(m.Ctx, m.by, id, shop.PaymentIn{Cents: cents, Method: "till", Key: key})
	if !m.did(err) {
		return false
	}
	if !p.Again {
		m.inTill += cents - p.Returned
	}
	if p.Waiting != nil {
		m.took(p.Waiting, nil)
	}
	return true
}

func (m *thread) letGo(id shop.BookingID) bool {
	m.given[id] = true
	in := shop.LeaveIn{Choice: rapid.SampledFrom([]string{"", "money", "credit"}).Draw(m.g, "choice")}
	v, err := m.BookingByID(m.Ctx, id)
	m.must(err)
	if len(v.People) > 1 && rapid.Bool().Draw(m.g, "one of them") {
		in.Seats = []shop.SeatLeave{{Seat: v.People[0].SeatID, Choice: in.Choice}}
	}
	_, err = m.LetGo(m.Ctx, m.by, id, in, m.once("leave"))
	return m.did(err)
}

func (m *thread) moveTo(id shop.BookingID) bool {
	m.given[id] = true
	v, err := m.MoveBooking(m.Ctx, m.by, id, m.class(), store.Once{})
	return m.took(v, err)
}

func (m *thread) pick(id shop.BookingID) bool {
	v, err := m.BookingByID(m.Ctx, id)
	m.must(err)
	p := rapid.SampledFrom(v.People).Draw(m.g, "person")
	jar := rapid.SampledFrom([]string{"PB", "MC", "GP", "day", "no such jar"}).Draw(m.g, "jar")
	return m.did(m.SavePick(m.Ctx, m.by, p.GuestID, 1, jar))
}

func (m *thread) callOff() bool {
	if rapid.IntRange(0, 7).Draw(m.g, "really") > 0 {
		return false
	}
	for _, id := range m.bookings {
		m.given[id] = true
	}
	return m.did(m.CallOff(m.Ctx, m.by, m.class(), "the teacher is ill"))
}

func (m *thread) answerParty(id shop.BookingID) bool {
	m.given[id] = true
	c := rapid.SampledFrom([]string{shop.AnswerMoney, shop.AnswerCredit, shop.AnswerMove, shop.AnswerAccept}).Draw(m.g, "answer")
	v, err := m.Answer(m.Ctx, m.by, id, c, m.class())
	return m.took(v, err)
}

func (m *thread) door(id shop.BookingID) bool {
	v, err := m.BookingByID(m.Ctx, id)
	m.must(err)
	seat := rapid.SampledFrom(v.People).Draw(m.g, "person").SeatID
	if rapid.Bool().Draw(m.g, "came") {
		return m.did(m.CheckIn(m.Ctx, m.by, seat))
	}
	return m.did(m.MarkMissed(m.Ctx, m.by, seat))
}

var killDays = map[string]unit.Day{"B1": unit.DayOf(2026, time.October, 7), "B2": unit.DayOf(2026, time.October, 14)}

// buy drafts an order and asks the farm.
func (m *thread) buy(class string, animals int) bool {
	o, err := m.DraftOrder(m.Ctx, m.by, store.NewOrder{Kill: killDays[class], Farm: "harl", Species: "pork", Animals: animals, Basis: "full", Classes: []string{class}})
	if !m.did(err) {
		return false
	}
	m.orders = append(m.orders, o.ID)
	_, err = m.SendOrder(m.Ctx, m.by, o.ID)
	return m.did(err)
}

func (m *thread) answer(id shop.OrderID) bool {
	a := shop.FarmAnswer{Says: rapid.SampledFrom([]string{"yes", "fewer", "no"}).Draw(m.g, "farm"), Animals: 1}
	if a.Says != "fewer" {
		a.Animals = 0
	}
	_, err := m.AnswerOrderFor(m.Ctx, m.by, id, a)
	return m.did(err)
}

// receive brings an order's meat in: promised, killed, weighed, one now and then condemned.
func (m *thread) receive(id shop.OrderID) bool {
	if _, err := m.AnswerOrderFor(m.Ctx, m.by, id, shop.FarmAnswer{Says: "yes"}); err != nil && !m.did(err) {
		m.g.Log("already answered")
	}
	var o []shop.Order
	m.rows(&o, "id = ?", id)
	var killed []shop.KilledAnimal
	var in []shop.DeliveredSide
	for i := range max(o[0].Promised, 1) {
		a := shop.KilledAnimal{Tag: fmt.Sprintf("HB-%d-%d", id, i), Hot: unit.WeightOfPounds(float64(rapid.IntRange(150, 220).Draw(m.g, "hot lb")))}
		if rapid.IntRange(0, 5).Draw(m.g, "condemned") == 5 && i > 0 {
			a = shop.KilledAnimal{Tag: a.Tag, Condemned: true}
		} else {
			half := a.Hot.MulDiv(49, 100)
			in = append(in, shop.DeliveredSide{Animal: i + 1, Which: "L", Cold: half}, shop.DeliveredSide{Animal: i + 1, Which: "R", Cold: half.MulDiv(99, 100)})
		}
		killed = append(killed, a)
	}
	if _, err := m.RecordKill(m.Ctx, m.by, id, killed); !m.did(err) {
		return false
	}
	_, err := m.ReceiveDelivery(m.Ctx, storetest.Tobias, id, mark, in)
	return m.did(err)
}

// to moves the clock, never back.
func (m *thread) to(at unit.Instant) {
	if at > m.Now() {
		m.Clock.Set(at)
	}
}

func (m *thread) forward() bool {
	d := rapid.SampledFrom([]time.Duration{time.Minute, 21 * time.Minute, 3 * time.Hour, 24 * time.Hour, 5 * 24 * time.Hour}).Draw(m.g, "by")
	m.Clock.Add(d)
	if rapid.Bool().Draw(m.g, "the loop runs") {
		m.must(m.RunDue(m.Ctx))
	}
	return true
}

func scan(s shop.Slab) store.Scan { return store.Scan{Tag: s.Tag} }

// nextStep takes a slab one step on as the shop would, on the day it would.
func (m *thread) nextStep(s shop.Slab) bool {
	by := storetest.Tobias
	switch s.State {
	case shop.Wanted:
		w := s.Planned.MulDiv(int64(rapid.IntRange(70, 104).Draw(m.g, "% of plan")), 100)
		return m.did(m.CutSlab(m.Ctx, by, scan(s), store.Cutting{Weight: w, SkinOn: s.SkinOn, GuestYes: rapid.Bool().Draw(m.g, "guest says yes")}))
	case shop.Cut:
		if !m.did(m.Kit(m.Ctx, by, scan(s))) {
			return m.did(m.PickAtTable(m.Ctx, by, scan(s), "PB"))
		}
		return true
	case shop.Kitted:
		return m.cure(by, s)
	case shop.InCure:
		day := s.UnbagFrom
		m.to(day.At(9, 0, m.Loc))
		for range 8 { // the next smoke day that takes it
			if _, err := m.PlanLoad(m.Ctx, by, max(m.Today(), day)+1); m.did(err) {
				break
			}
			day++
			m.to(day.At(9, 0, m.Loc))
		}
		return m.did(m.Rinse(m.Ctx, by, scan(s), 0))
	case shop.Rinsed:
		m.to(s.SmokeOn.At(8, 0, m.Loc))
		return m.did(m.Hang(m.Ctx, by, scan(s), ""))
	case shop.InSmoke:
		m.Clock.Add(time.Duration(rapid.IntRange(1, 8).Draw(m.g, "hours")) * time.Hour)
		return m.did(m.OutOfSmoke(m.Ctx, by, scan(s), unit.TempOfF(float64(rapid.IntRange(140, 150).Draw(m.g, "°F")))))
	case shop.Resting:
		m.Clock.Add(18 * time.Hour)
		if rapid.IntRange(0, 4).Draw(m.g, "chill") > 0 {
			m.did(m.AnswerChill(m.Ctx, by, s.SmokeOn, "cold at the thickest by the hand thermometer"))
		}
		return m.did(m.Pack(m.Ctx, by, scan(s), s.Green.MulDiv(int64(rapid.IntRange(80, 96).Draw(m.g, "% of green")), 100)))
	case shop.Packed:
		return m.did(m.Shelve(m.Ctx, by, scan(s), ""))
	case shop.OnShelf, shop.InFreezer:
		return m.collect(s)
	}
	return false
}

// cure weighs the ticket out, true or a little wrong, and seals.
func (m *thread) cure(by shop.Actor, s shop.Slab) bool {
	m.did(m.CheckScale(m.Ctx, by, "cure scale", 5*unit.Gram))
	var k []shop.CureTicket
	m.rows(&k, "superseded_at = 0 AND slab_id = ?", s.ID)
	if len(k) == 1 {
		w := weighed(k[0])
		if rapid.IntRange(0, 4).Draw(m.g, "wrong weight") == 4 {
			w.Cure = k[0].Cure.MulDiv(int64(rapid.IntRange(50, 200).Draw(m.g, "% of cure")), 100).Number(unit.Gram, 1)
		}
		m.did(m.WeighOut(m.Ctx, by, scan(s), w))
	}
	return m.did(m.Seal(m.Ctx, by, scan(s), ""))
}

func (m *thread) collect(s shop.Slab) bool {
	v, err := m.Slab(m.Ctx, s.Tag)
	m.must(err)
	if v.BookingID == 0 {
		return m.did(m.GiveUp(m.Ctx, storetest.Nadia, scan(s)))
	}
	p, err := m.Pickup(m.Ctx, v.BookingID)
	if !m.did(err) {
		return false
	}
	var tags []string
	for _, l := range p.Ready {
		tags = append(tags, l.Tag)
	}
	to := rapid.SampledFrom([]string{v.Payer, "A stranger"}).Draw(m.g, "who fetches")
	return m.did(m.Collect(m.Ctx, storetest.Nadia, store.Handing{Booking: v.BookingID, To: to, Tags: tags}))
}

// anyStep does something to a slab whatever its state: it must be refused or right.
func (m *thread) anyStep(s shop.Slab) bool {
	by, sc := storetest.Tobias, scan(s)
	if rapid.Bool().Draw(m.g, "arrived late") {
		sc.DoneAt = m.Now().Add(-time.Duration(rapid.IntRange(0, 2000).Draw(m.g, "minutes ago")) * time.Minute)
	}
	var err error
	switch what := rapid.SampledFrom(strings.Fields("cut correct kit seal rinse hang out pack shelve freezer give-up move seat")).Draw(m.g, "step"); what {
	case "cut":
		err = m.CutSlab(m.Ctx, by, sc, store.Cutting{Weight: s.Planned, GuestYes: true})
	case "correct":
		err = m.CorrectSlab(m.Ctx, by, sc, store.Cutting{Weight: 4 * unit.Pound, GuestYes: true})
	case "kit":
		err = m.Kit(m.Ctx, by, sc)
	case "seal":
		err = m.Seal(m.Ctx, by, sc, "")
	case "rinse":
		err = m.Rinse(m.Ctx, by, sc, 0)
	case "hang":
		err = m.Hang(m.Ctx, by, sc, "")
	case "out":
		err = m.OutOfSmoke(m.Ctx, by, sc, unit.TempOfF(150))
	case "pack":
		err = m.Pack(m.Ctx, by, sc, s.Green.MulDiv(85, 100))
	case "shelve":
		err = m.Shelve(m.Ctx, by, sc, "D1")
	case "freezer":
		err = m.ToFreezer(m.Ctx, by, sc, "")
	case "give-up":
		err = m.GiveUp(m.Ctx, by, sc)
	case "move":
		err = m.MoveInCure(m.Ctx, by, sc, "R1")
	case "seat":
		err = m.SeatWeight(m.Ctx, by, sc, s.Green)
	}
	return m.did(err)
}

func (m *thread) swap(a shop.Slab) bool {
	return m.ofSlab(func(b shop.Slab) bool { return m.did(m.SwapSlabs(m.Ctx, storetest.Tobias, scan(a), scan(b))) })
}

func (m *thread) hold(s shop.Slab) bool {
	if rapid.Bool().Draw(m.g, "leave it") {
		return false
	}
	_, err := m.OpenHold(m.Ctx, storetest.Tobias, "", []string{s.Tag}, "the bag leaks")
	return m.did(err)
}

// warm is a door left open: readings above the limit for hours.
func (m *thread) warm() bool {
	if rapid.IntRange(0, 3).Draw(m.g, "door left open") > 0 {
		return false
	}
	var rooms []shop.Room
	m.rows(&rooms, "1 = 1")
	room := rapid.SampledFrom(rooms).Draw(m.g, "room").Code
	var in []heat.Reading
	for i := range rapid.IntRange(1, 30).Draw(m.g, "readings") {
		in = append(in, heat.Reading{At: m.Now().Add(-time.Duration(10*i) * time.Minute), Temp: unit.TempOfF(float64(rapid.IntRange(30, 60).Draw(m.g, "°F")))})
	}
	_, err := m.Readings(m.Ctx, storetest.Tobias, room, in)
	return m.did(err)
}

func (m *thread) ofHold(decide func(ctx context.Context, by shop.Actor, id shop.HoldID, tags []string, why string) error) bool {
	var holds []shop.Hold
	m.rows(&holds, "1 = 1")
	if len(holds) == 0 {
		return false
	}
	h := rapid.SampledFrom(holds).Draw(m.g, "hold")
	var on []shop.Slab
	m.must(m.Rows(m.Ctx, func(db *gorm.DB) error {
		return db.Where("id IN (SELECT slab_id FROM hold_slabs WHERE hold_id = ?)", h.ID).Find(&on).Error
	}))
	for _, s := range on {
		m.released[s.ID] = true
	}
	return m.did(decide(m.Ctx, storetest.Odile, h.ID, nil, rapid.SampledFrom([]string{"", "looked at it"}).Draw(m.g, "why")))
}
