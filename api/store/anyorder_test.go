package store_test

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/api/store/storetest"
	"flitchbook/planner/steadytest"
	"flitchbook/planner/unit"
)

// TestInAnyOrder: whatever people, the shop, the payment provider and a failing disk do, in
// any order: seats are never oversold, the ledger balances, a model's own arithmetic knows
// where every cent of every booking, voucher and credit went, and nobody reads what somebody
// else answered about food. What is refused, and what fails half way, changes nothing.
func TestInAnyOrder(t *testing.T) {
	for _, d := range []struct {
		name, runs string
		url        func(testing.TB) string
	}{
		{"sqlite", "30", func(t testing.TB) string { return "sqlite:" + filepath.Join(t.TempDir(), "shop.db") }},
		{"postgres", "2", func(t testing.TB) string { return storetest.PostgresURL(t) }},
	} {
		t.Run(d.name, func(t *testing.T) {
			if d.name == "postgres" {
				storetest.PostgresURL(t) // says so at once where there is no server
			}
			steadytest.Runs(t, d.runs)
			done, seen := map[string]int{}, 0
			rapid.Check(t, func(g *rapid.T) {
				sc := &scope{TB: t}
				defer sc.close()
				m := &anyOrder{House: storetest.Open(sc, d.url(sc)), g: g, done: done, books: map[shop.BookingID]*anyBook{}, words: map[shop.GuestID]string{}}
				m.start()
				for range 60 {
					m.step()
				}
				m.eyes()
				seen += m.seen
			})
			for _, name := range []string{"book", "wait", "take", "pay", "pay all", "pay with codes", "begin online", "online", "online late", "let go", "let go some", "kinder", "move", "call off", "move class", "answer", "days", "voucher", "refund", "food", "erase", "came", "price", "broken"} {
				if done[name] == 0 && d.name == "sqlite" { // few runs there
					t.Errorf("never done: %s", name)
				}
			}
			if seen == 0 && d.name == "sqlite" {
				t.Error("the words about food were never seen where they may be")
			}
			t.Logf("done: %v; words seen where they may be: %d", done, seen)
		})
	}
}

// anyOrder is the shop under random commands and what the model knows of its money.
type anyOrder struct {
	*storetest.House
	g       *rapid.T
	done    map[string]int
	breakAt func(int) func() bool
	calm    func() bool // ends the breaking
	broke   bool        // the command met a statement that failed
	books   map[shop.BookingID]*anyBook
	order   []shop.BookingID
	codes   []string       // of vouchers
	resales []anyResale    // seats whose money hangs on a buyer
	begun   []anyCheckout  // the provider's pages
	refunds map[string]int // what the provider gave back, by our key
	words   map[shop.GuestID]string
	pig     unit.Money // what a seat at a clinic costs whoever books now
	was     cents
	next    change // what the command under way is to change
	n, seen int
}

// anyBook is what the model knows of a booking.
type anyBook struct {
	name   string
	class  string
	each   unit.Money // what it pays for a seat
	money  unit.Money // of what it is paid with, that came as money
	lifted bool       // paid with a seat's voucher, which comes back whole or not at all
}

type anyResale struct {
	class string
	book  shop.BookingID
	cents unit.Money
}

type anyCheckout struct {
	ref    string
	book   shop.BookingID
	cents  unit.Money
	coded  bool
	counts int
}

// cents are all sums of money there are, read from the rows.
type cents struct {
	box    unit.Money // money in hand and at the provider's
	codes  unit.Money // left on vouchers and credits
	paid   map[shop.BookingID]unit.Money
	kept   map[shop.BookingID]unit.Money
	rows   string // how many rows of what there are
	states map[shop.BookingID]shop.BookingState
	until  map[shop.BookingID]unit.Instant // by when they answer
	total  map[shop.BookingID]unit.Money
}

// A change is what a command is to change of them; everything else stays.
type change struct {
	box, codes unit.Money
	paid, kept map[shop.BookingID]unit.Money
	loose      bool // a seat's voucher comes back whole or as a credit: only the sum of box and codes is known
}

func (c *change) give(b shop.BookingID, paid, kept unit.Money) {
	if c.paid == nil {
		c.paid, c.kept = map[shop.BookingID]unit.Money{}, map[shop.BookingID]unit.Money{}
	}
	c.paid[b] += paid
	c.kept[b] += kept
}

var anyClasses = map[string]struct {
	kind, at string
	seats    int
	price    unit.Money // R1, before Oct 20 and before the owner asks more
}{"B1": {"bacon", "2026-10-10 14:00", 2, 95_00}, "B2": {"bacon", "2026-10-17 14:00", 4, 95_00}, "B3": {"bacon", "2026-11-21 14:00", 6, 95_00}, "D1": {"pig", "2026-10-15 18:00", 4, 165_00}}

func (m *anyOrder) start() {
	var err error
	if m.breakAt, err = m.CanBreak(); err != nil {
		m.g.Fatal(err)
	}
	m.refunds, m.pig = map[string]int{}, anyClasses["D1"].price
	for code, c := range anyClasses {
		_, err := m.AddClass(m.Ctx, storetest.Odile, shop.NewClass{Code: code, Kind: c.kind, StartsAt: m.At(c.at), Seats: c.seats, MinSeats: -1, DemoSlabs: -1})
		m.must(errors.Join(err, m.Publish(m.Ctx, storetest.Odile, code)))
	}
	m.Go(rapid.SampledFrom([]string{"2026-09-20 10:00", "2026-10-02 10:00", "2026-10-06 10:00"}).Draw(m.g, "begin")) // every tier of R4
	m.calm = func() bool { return false }
	m.was, m.next = m.count(), change{}
}

func (m *anyOrder) must(err error) {
	if err != nil {
		m.g.Helper()
		m.g.Fatal(err)
	}
}

func (m *anyOrder) rows(out any, sql string, args ...any) {
	m.g.Helper()
	m.must(m.Reading(m.Ctx).Raw(sql, args...).Scan(out).Error)
}

func (m *anyOrder) count() cents {
	c := cents{paid: map[shop.BookingID]unit.Money{}, kept: map[shop.BookingID]unit.Money{}, states: map[shop.BookingID]shop.BookingState{}, until: map[shop.BookingID]unit.Instant{}, total: map[shop.BookingID]unit.Money{}}
	m.rows(&c.box, "SELECT coalesce(sum(cents), 0) FROM payments WHERE method IN ('cash', 'card', 'transfer', 'till', 'online')")
	m.rows(&c.codes, "SELECT (SELECT coalesce(sum(left_cents), 0) FROM credits) + (SELECT coalesce(sum(left_cents), 0) FROM vouchers)")
	var all []shop.Booking
	m.rows(&all, "SELECT * FROM bookings")
	for _, b := range all {
		c.paid[b.ID], c.kept[b.ID], c.states[b.ID], c.until[b.ID], c.total[b.ID] = b.PaidCents, b.KeptCents, b.State, b.AnswerUntil, b.TotalCents
	}
	sql := "SELECT ''"
	for _, table := range []string{"bookings", "seats", "guests", "payments", "ledger_entries", "ledger_lines", "credits", "vouchers", "resales", "checkouts", "refunds", "history", "notices", "seat_holds", "waiting_entries", "needs", "repeat_keys"} {
		sql += " || ' " + table + " ' || (SELECT count(*) FROM " + table + ")"
	}
	m.rows(&c.rows, sql)
	return c
}

// did takes the answer to a command: done, or a no that people can read.
func (m *anyOrder) did(name string, err error) bool {
	m.calm() // what follows is the test's own
	m.broke = m.broke || store.IsBroken(err)
	if err == nil {
		m.done[name]++
		return true
	}
	if e, ok := shop.AsError(err); !store.IsBroken(err) && (!ok || e.Kind == shop.Internal || e.Text == "") {
		m.g.Fatalf("%s: not a no that people can read: %v", name, err)
	}
	return false
}

func (m *anyOrder) pick(states ...shop.BookingState) (shop.BookingID, *anyBook) {
	var may []shop.BookingID
	for _, id := range m.order {
		if len(states) == 0 || slices.Contains(states, m.was.states[id]) {
			may = append(may, id)
		}
	}
	if len(may) == 0 {
		panic(nothing{})
	}
	id := rapid.SampledFrom(may).Draw(m.g, "who")
	return id, m.books[id]
}

func (m *anyOrder) key() string { m.n++; return fmt.Sprint("k", m.n) }

func (m *anyOrder) class() string {
	return rapid.SampledFrom(slices.Sorted(maps.Keys(anyClasses))).Draw(m.g, "class")
}

func payerOf(id shop.BookingID) shop.Actor {
	return shop.Customer(fmt.Sprintf("payer of booking %d", id))
}

// nothing to do: nobody is there whom a command could be about.
type nothing struct{}

// The draws favour what stands first.
var anyCommands = strings.Fields("online begin buy take answer refund wait letGo buy online callOff begin erase food wait move moveClass days pay look online begin buy letGo take book wait voucher unqueue pay days door price pay callOff answer answer")

// step draws a command, does it and looks at what has become of everything.
func (m *anyOrder) step() {
	defer func() {
		if p := recover(); p != nil && p != (nothing{}) {
			panic(p)
		}
	}()
	name := rapid.SampledFrom(anyCommands).Draw(m.g, "command")
	m.next, m.calm, m.broke = change{}, func() bool { return false }, false
	// Every fifth command meets a statement that fails, somewhere on its way.
	if name != "days" && name != "door" && name != "refund" && name != "look" && rapid.IntRange(0, 4).Draw(m.g, "breaks") == 4 {
		m.calm = m.breakAt(rapid.IntRange(1, 60).Draw(m.g, "at"))
		defer m.calm() // should there be nothing to do
	}
	map[string]func(){"buy": m.buy, "book": m.book, "wait": m.wait, "take": m.take, "unqueue": m.unqueue, "pay": m.pay, "begin": m.begin, "online": m.online, "refund": m.refund,
		"letGo": m.letGo, "move": m.move, "callOff": m.callOff, "moveClass": m.moveClass, "answer": m.answer, "days": m.days, "voucher": m.voucher, "food": m.food,
		"erase": m.erase, "door": m.door, "price": m.price, "look": m.eyes}[name]()
	m.calm() // it did nothing that could break
	if m.broke {
		m.done["broken"]++
		if now := m.count(); now.rows != m.was.rows {
			m.g.Fatalf("%s failed half way and left something: %s, before: %s", name, now.rows, m.was.rows)
		}
		m.next = change{}
	}
	m.holds()
}

func (m *anyOrder) took(name string, v *store.BookingView, err error) {
	if m.did(name, err) {
		m.books[v.ID] = &anyBook{name: v.PayerName, class: v.Class.Code, each: v.Total / unit.Money(len(v.People))}
		m.order = append(m.order, v.ID)
		var again []shop.Need // of a party put back on the waiting list
		m.rows(&again, "SELECT * FROM needs WHERE guest_id IN (SELECT id FROM guests WHERE booking_id = ?)", v.ID)
		for _, n := range again {
			m.words[n.GuestID] = n.Words
		}
	}
}

func (m *anyOrder) book() {
	p := party(m.class(), fmt.Sprintf("Pay%dx X.", len(m.order)), rapid.IntRange(1, 6).Draw(m.g, "seats"))
	v, err := m.Book(m.Ctx, shop.Customer("online"), p, store.Once{})
	m.took("book", v, err)
	if err == nil && v.Total != unit.Money(len(v.People))*m.costs(v.Class.Code) {
		m.g.Fatalf("%d people booked %s for %s, a seat costs %s", len(v.People), v.Class.Code, v.Total, m.costs(v.Class.Code))
	}
}

// buy books and pays what is due at once, as most people do.
func (m *anyOrder) buy() {
	n := len(m.order)
	m.book()
	m.holds()
	if len(m.order) > n {
		m.payFor(m.order[n])
	}
}

func (m *anyOrder) wait() {
	p := party(m.class(), fmt.Sprintf("Pay%dx X.", len(m.order)), rapid.IntRange(1, 2).Draw(m.g, "seats"))
	v, err := m.JoinWaiting(m.Ctx, shop.Customer("online"), p, store.Once{})
	m.took("wait", v, err)
}

func (m *anyOrder) take() {
	id, _ := m.pick(shop.Offered)
	m.did("take", m.TakeOffer(m.Ctx, payerOf(id), id))
}

func (m *anyOrder) unqueue() {
	id, _ := m.pick(shop.Waiting, shop.Offered)
	m.did("stop waiting", m.LeaveWaiting(m.Ctx, payerOf(id), id))
}

// bring draws codes to pay with: vouchers of both kinds, credits.
func (m *anyOrder) bring() (vouchers, credits []string) {
	if rapid.Bool().Draw(m.g, "codes") {
		vouchers = m.codes
		var ids []shop.CreditID
		m.rows(&ids, "SELECT id FROM credits WHERE left_cents > 0 AND state = 'open' ORDER BY id DESC LIMIT 2")
		for _, id := range ids {
			credits = append(credits, m.CreditCode(id))
		}
	}
	return vouchers, credits
}

// paidIn is what a payment is to change: what came, less what went straight back, and what
// was taken off codes, all of it now on the booking.
func (m *anyOrder) paidIn(id shop.BookingID, came, returned unit.Money, seatCodes bool) {
	b := m.books[id]
	b.money += came - returned
	m.next.box += came - returned
	m.resold(b.class)
	used := m.was.codes + m.next.codes - m.count().codes
	if used < 0 {
		m.g.Fatalf("a payment left %s more on codes", -used)
	}
	b.lifted = b.lifted || used > 0 && seatCodes
	m.next.codes -= used
	m.next.give(id, came-returned+used, 0)
	v, err := m.BookingByID(m.Ctx, id)
	m.must(err)
	if v.Paid-v.Kept > v.Total && v.State != shop.LetGo && v.State != shop.SeatOff {
		m.g.Fatalf("%s costs %s and has %s, %s kept", v.Ref, v.Total, v.Paid, v.Kept)
	}
}

func (m *anyOrder) pay() {
	id, _ := m.pick()
	m.payFor(id)
}

func (m *anyOrder) payFor(id shop.BookingID) {
	b := m.books[id]
	method := rapid.SampledFrom([]string{"cash", "card", "transfer", "till"}).Draw(m.g, "method")
	in := shop.PaymentIn{Key: m.key(), Method: method}
	in.Vouchers, in.Credits = m.bring()
	q, err := m.PayQuote(m.Ctx, storetest.Nadia, id, in.Vouchers, in.Credits)
	if err != nil && !store.IsBroken(err) {
		in.Vouchers, in.Credits = nil, nil
		q, err = m.PayQuote(m.Ctx, storetest.Nadia, id, nil, nil)
	}
	if err != nil {
		m.did("pay", err)
		return
	}
	name := "pay"
	if in.Cents = q.Money; rapid.Bool().Draw(m.g, "all") {
		name, in.Cents = "pay all", q.All
	}
	if method == "till" {
		in.Cents += unit.Money(rapid.IntRange(0, 3).Draw(m.g, "too much"))
	}
	paid, err := m.Pay(m.Ctx, storetest.Nadia, id, in)
	if !m.did(name, err) {
		return
	}
	if q.Covered > 0 {
		m.done["pay with codes"]++
	}
	if paid.Waiting != nil {
		m.took("late", paid.Waiting, nil)
	}
	if stood := m.was.states[id]; stood == shop.LetGo || stood == shop.SeatOff || stood == shop.Waiting { // R3: too late, all of it back
		if paid.Returned != in.Cents {
			m.g.Fatalf("%s paid %s too late and got %s back", b.name, in.Cents, paid.Returned)
		}
		return
	}
	m.paidIn(id, in.Cents, paid.Returned, len(in.Vouchers) > 0)
	if a, err := m.Pay(m.Ctx, storetest.Nadia, id, in); err != nil || !a.Again {
		m.g.Fatalf("the same press again: %+v, %v", a, err)
	}
}

// begin leads a payer to the provider's page.
func (m *anyOrder) begin() {
	if rapid.Bool().Draw(m.g, "book first") {
		n := len(m.order)
		m.book()
		m.holds()
		if len(m.order) == n {
			return
		}
		m.beginFor(m.order[n])
		return
	}
	id, _ := m.pick()
	m.beginFor(id)
}

func (m *anyOrder) beginFor(id shop.BookingID) {
	ask := shop.CheckoutAsk{Key: m.key(), All: rapid.Bool().Draw(m.g, "all")}
	ask.Vouchers, ask.Credits = m.bring()
	k, err := m.BeginCheckout(m.Ctx, payerOf(id), id, ask)
	if !m.did("begin online", err) {
		return
	}
	ref := fmt.Sprintf("cs_%d", k.ID)
	if err := m.CheckoutOpened(m.Ctx, k.ID, ref, "https://pay.example.test/c/"+ref); err != nil {
		m.did("begin online", err)
		return
	}
	m.begun = append(m.begun, anyCheckout{ref: ref, book: id, cents: k.Cents, coded: len(ask.Vouchers)+len(ask.Credits) > 0})
}

// online is a notice of the provider's: paid, now and then twice, or ended.
func (m *anyOrder) online() {
	if len(m.begun) == 0 {
		panic(nothing{})
	}
	k := &m.begun[rapid.IntRange(0, len(m.begun)-1).Draw(m.g, "page")]
	if k.counts == 0 && rapid.IntRange(0, 5).Draw(m.g, "nobody pays") == 0 {
		m.did("page ended", m.CheckoutEnded(m.Ctx, k.ref))
		return
	}
	if !m.did("online", m.CheckoutPaid(m.Ctx, k.ref, shop.CheckoutResult{State: shop.CheckoutPaid, Cents: k.cents, PaymentRef: "pi_" + k.ref})) {
		return
	}
	if k.counts++; k.counts > 1 {
		return // told again: nothing changes
	}
	for _, v := range m.newBookings() {
		m.took("online late", v, nil) // first on the waiting list
	}
	var back unit.Money
	m.rows(&back, "SELECT coalesce(-sum(p.cents), 0) FROM payments p JOIN checkouts k ON p.key IN ('checkout/' || k.id || '/back', 'checkout/' || k.id || '/over') WHERE k.ref = ?", k.ref)
	if back < 0 || back > k.cents {
		m.g.Fatalf("of %s, %s went straight back", k.cents, back)
	}
	stood := m.was.states[k.book]
	gone := stood == shop.LetGo || stood == shop.SeatOff || stood == shop.Waiting
	if gone && back != k.cents {
		m.g.Fatalf("the booking was %s, and only %s of %s came back", stood, back, k.cents)
	}
	if !gone && !k.coded && stood == shop.Firm && back != max(0, k.cents-(m.was.total[k.book]-m.was.paid[k.book]+m.was.kept[k.book])) {
		m.g.Fatalf("%s was owed, %s came, %s went back", m.was.total[k.book]-m.was.paid[k.book]+m.was.kept[k.book], k.cents, back)
	}
	if back < k.cents {
		m.paidIn(k.book, k.cents, back, k.coded)
	}
}

func (m *anyOrder) newBookings() (out []*store.BookingView) {
	var ids []shop.BookingID
	m.rows(&ids, "SELECT id FROM bookings ORDER BY id")
	for _, id := range ids {
		if m.books[id] == nil {
			v, err := m.BookingByID(m.Ctx, id)
			m.must(err)
			out = append(out, v)
		}
	}
	return out
}

// refund hands refunds to a provider that does them, takes its time, fails or is away; what
// failed is tried again or given another way. No sum changes by it but where the money lies.
func (m *anyOrder) refund() {
	_, err := m.SendRefunds(m.Ctx, func(_ context.Context, r shop.Refund, _ string) (store.RefundResult, error) {
		switch rapid.IntRange(0, 5).Draw(m.g, "provider") {
		case 0:
			return store.RefundResult{}, errors.New("away")
		case 1:
			return store.RefundResult{}, fmt.Errorf("%w: no such card", store.ErrRefundRefused)
		case 2:
			return store.RefundResult{Ref: "re_" + r.Key, State: shop.RefundSent}, nil
		}
		m.refunds[r.Key] = int(r.Cents)
		return store.RefundResult{Ref: "re_" + r.Key, State: shop.RefundDone}, nil
	})
	m.must(err)
	var sent []shop.Refund
	m.rows(&sent, "SELECT * FROM refunds WHERE state IN ('sent', 'failed')")
	for _, r := range sent {
		m.done["refund"]++
		switch {
		case r.State == shop.RefundSent:
			m.refunds[r.Key] = int(r.Cents)
			for range 2 {
				_, err = m.RefundTold(m.Ctx, r.Key, store.RefundResult{Ref: r.Ref, State: shop.RefundDone})
				m.must(err)
			}
		case rapid.Bool().Draw(m.g, "another way"):
			m.must(m.RefundOtherWay(m.Ctx, storetest.Odile, r.ID, "cash", "at the counter"))
		default:
			m.must(m.RetryRefund(m.Ctx, storetest.Odile, r.ID))
		}
	}
}

// leaving works out what seats that are let go bring back (R4, R8), from what the party has
// paid, the days that are left and the choice.
func (m *anyOrder) leaving(id shop.BookingID, goes []bool, choice string, kinder bool) {
	b, paid := m.books[id], m.was.paid[id]-m.was.kept[id]
	var class shop.Class
	m.rows(&class, "SELECT * FROM classes WHERE code = ?", b.class)
	days := int(class.Day - m.Today())
	each, more := paid/unit.Money(len(goes)), int(paid%unit.Money(len(goes))) // the first have a cent more
	for i, going := range goes {
		if !going {
			continue
		}
		share := each
		if i < more {
			share++
		}
		back := share
		switch {
		case kinder || days >= 14:
		case days >= 7 && choice == "money":
			back = (share + 1) / 2
		case days >= 7:
		default:
			back = 0
			m.resales = append(m.resales, anyResale{b.class, id, share})
		}
		m.givesBack(id, back, choice, share-back)
	}
}

// givesBack takes a sum off a booking: money first, as money or as a credit; then what was
// paid with codes, as it was.
func (m *anyOrder) givesBack(id shop.BookingID, back unit.Money, choice string, kept unit.Money) {
	b := m.books[id]
	m.next.give(id, -back, kept)
	part := min(back, b.money)
	b.money -= part
	m.next.loose = m.next.loose || b.lifted
	if choice == "money" {
		m.next.box -= part
		back -= part
	}
	m.next.codes += back
}

// resold credits those whose seats have found a buyer: fewer seats stand unsold than wait
// for one, the oldest first (R4).
func (m *anyOrder) resold(class string) {
	var unsold int
	m.rows(&unsold, "SELECT c.seats - (SELECT count(*) FROM seats s WHERE s.class_id = c.id AND s.kind <> 'watch' AND s.state IN ('firm', 'came', 'missed')) FROM classes c WHERE c.code = ?", class)
	open := 0
	for _, r := range m.resales {
		if r.class == class {
			open++
		}
	}
	m.resales = slices.DeleteFunc(m.resales, func(r anyResale) bool {
		if r.class != class || open <= unsold {
			return false
		}
		open--
		m.givesBack(r.book, r.cents, "credit", -r.cents)
		return true
	})
}

func (m *anyOrder) letGo() {
	id, _ := m.pick(shop.Firm, shop.Held)
	v, err := m.BookingByID(m.Ctx, id)
	m.must(err)
	in := shop.LeaveIn{Choice: rapid.SampledFrom([]string{"money", "credit"}).Draw(m.g, "choice")}
	name, by := "let go", payerOf(id)
	goes := make([]bool, len(v.People)) // all but those who have come
	for i, p := range v.People {
		goes[i] = p.State == v.State
	}
	if len(v.People) > 1 && v.State == shop.Firm && rapid.Bool().Draw(m.g, "some") {
		name = "let go some"
		stay := rapid.IntRange(1, len(v.People)-1).Draw(m.g, "how many stay")
		for i, p := range v.People {
			if goes[i] = i >= stay; goes[i] {
				in.Seats = append(in.Seats, shop.SeatLeave{Seat: p.SeatID, Choice: in.Choice})
			}
		}
	}
	if rapid.IntRange(0, 4).Draw(m.g, "kinder") == 0 {
		name, in.Kinder, in.Reason, by = "kinder", true, "ill", storetest.Odile
	}
	once := store.Once{Key: m.key(), Fingerprint: "x"}
	if _, err = m.LetGo(m.Ctx, by, id, in, once); !m.did(name, err) {
		return
	}
	if v.State == shop.Firm {
		m.leaving(id, goes, in.Choice, in.Kinder)
		for i, p := range v.People {
			if goes[i] {
				delete(m.words, p.GuestID) // their answers are gone; a hold's, which may be paid late, stay on their own page (R3, R14)
			}
		}
	}
	if _, err = m.LetGo(m.Ctx, by, id, in, once); err != nil {
		m.g.Fatalf("the same press again: %v", err)
	}
}

// moves works out what a move changes: the price it was booked at within a kind, today's for
// another; what is paid beyond it becomes a credit (R6).
func (m *anyOrder) moves(id shop.BookingID, v *store.BookingView) {
	b := m.books[id]
	if anyClasses[b.class].kind != anyClasses[v.Class.Code].kind {
		b.each = m.costs(v.Class.Code)
	}
	b.class = v.Class.Code
	if want := unit.Money(len(v.People)) * b.each; v.Total != want {
		m.g.Fatalf("%s moved to %s: %d people cost %s, not %s", v.Ref, b.class, len(v.People), v.Total, want)
	}
	if over := m.was.paid[id] - m.was.kept[id] - v.Total; over > 0 {
		m.givesBack(id, over, "credit", 0)
	}
	m.resold(b.class)
}

func (m *anyOrder) move() {
	id, _ := m.pick(shop.Firm)
	v, err := m.MoveBooking(m.Ctx, payerOf(id), id, m.class(), store.Once{})
	if m.did("move", err) {
		m.moves(id, v)
	}
}

func (m *anyOrder) callOff() {
	if rapid.IntRange(0, 2).Draw(m.g, "really") == 2 {
		m.did("call off", m.CallOff(m.Ctx, storetest.Odile, m.class(), "a burst pipe"))
	}
}

func (m *anyOrder) moveClass() {
	at := m.Now().Add(time.Duration(rapid.IntRange(8, 25).Draw(m.g, "days")) * 24 * time.Hour)
	m.did("move class", m.MoveClass(m.Ctx, storetest.Odile, m.class(), at, "a burst pipe"))
}

// offered works out what somebody gets whose class the shop called off or moved (R5).
func (m *anyOrder) offered(id shop.BookingID, choice string) {
	amount := m.was.paid[id] - m.was.kept[id]
	if amount <= 0 {
		return
	}
	if choice == "credit" { // what came as money is worth a tenth more
		m.next.codes += (min(amount, m.books[id].money)*110+50)/100 - min(amount, m.books[id].money)
	}
	m.givesBack(id, amount, choice, 0)
}

func (m *anyOrder) answer() {
	id, _ := m.pick(shop.SeatOff, shop.Firm)
	for _, asked := range m.order { // mostly somebody who was asked
		if m.was.until[asked] > 0 && rapid.IntRange(0, 3).Draw(m.g, "this one") > 0 {
			id = asked
			break
		}
	}
	choice := rapid.SampledFrom([]string{shop.AnswerMove, shop.AnswerCredit, shop.AnswerMoney, shop.AnswerAccept}).Draw(m.g, "answer")
	v, err := m.Answer(m.Ctx, payerOf(id), id, choice, m.class())
	switch {
	case !m.did("answer", err):
	case choice == shop.AnswerMove:
		m.moves(id, v)
	case choice != shop.AnswerAccept:
		m.offered(id, choice)
		m.forget(id)
	}
}

// costs is what a seat costs whoever books it now.
func (m *anyOrder) costs(class string) unit.Money {
	if anyClasses[class].kind == "pig" {
		return m.pig
	}
	return anyClasses[class].price
}

// price: the owner asks another price for clinics from now on. What has been booked costs
// what it cost.
func (m *anyOrder) price() {
	cents := m.pig + unit.Money(rapid.SampledFrom([]int{15_00, 7_01, -5_00}).Draw(m.g, "more"))
	if m.did("price", m.SetPrice(m.Ctx, storetest.Odile, shop.NewPrice{Kind: "pig", Seat: shop.GuestSeat, Cents: cents})) {
		m.pig = cents
	}
	if now := m.count(); !maps.Equal(now.total, m.was.total) {
		m.g.Fatalf("a new price changed what was booked: %v, before %v", now.total, m.was.total)
	}
}

// door: somebody comes to a class, or does not; time goes on to the class where one is ahead.
func (m *anyOrder) door() {
	id, b := m.pick(shop.Firm, shop.Came, shop.Missed)
	var starts unit.Instant
	m.rows(&starts, "SELECT starts_at FROM classes WHERE code = ?", b.class)
	if at := starts - 600; at > m.Now() && at < m.At("2026-10-19 12:00") && rapid.Bool().Draw(m.g, "wait for it") {
		m.pass(time.Duration(at-m.Now()) * time.Second)
		m.holds()
	}
	v, err := m.BookingByID(m.Ctx, id)
	m.must(err)
	if len(v.People) == 0 {
		panic(nothing{})
	}
	seat := rapid.SampledFrom(v.People).Draw(m.g, "guest").SeatID
	if rapid.IntRange(0, 3).Draw(m.g, "stays away") == 0 {
		m.did("missed", m.MarkMissed(m.Ctx, storetest.Nadia, seat))
		return
	}
	m.did("came", m.CheckIn(m.Ctx, storetest.Nadia, seat))
}

// forget: nobody of a booking comes any more.
func (m *anyOrder) forget(id shop.BookingID) {
	var gone []shop.GuestID
	m.rows(&gone, "SELECT id FROM guests WHERE booking_id = ? AND needs_state = 'not told'", id)
	for _, g := range gone {
		delete(m.words, g)
	}
}

// days go by: holds and offers end, and who has not answered in time gets all their money.
func (m *anyOrder) days() {
	d := rapid.SampledFrom([]time.Duration{21 * time.Minute, 26 * time.Hour, 3 * 24 * time.Hour, 8 * 24 * time.Hour}).Draw(m.g, "time")
	if m.Now().Add(d) >= m.At("2026-10-19 12:00") {
		panic(nothing{}) // prices rise
	}
	m.pass(d)
}

func (m *anyOrder) pass(d time.Duration) {
	m.Clock.Add(d)
	for _, id := range m.order {
		if until := m.was.until[id]; until > 0 && until <= m.Now() {
			m.offered(id, "money")
		}
	}
	m.must(m.RunDue(m.Ctx))
	m.done["days"]++
	for _, id := range m.order {
		if until := m.was.until[id]; until > 0 && until <= m.Now() {
			m.forget(id)
		}
	}
}

func (m *anyOrder) voucher() {
	n, price := shop.NewVoucher{Kind: "money", Cents: 70_00, BuyerName: "U", BuyerEmail: "u@post.example.test"}, unit.Money(70_00)
	if rapid.Bool().Draw(m.g, "seat") {
		n, price = shop.NewVoucher{Kind: "seat", ClassKind: "bacon", BuyerName: "U", BuyerEmail: "u@post.example.test"}, 95_00
	}
	v, err := m.SellVoucher(m.Ctx, shop.Customer("U"), n, shop.PaymentIn{Cents: price, Method: "till", Key: m.key()})
	if m.did("voucher", err) {
		m.codes = append(m.codes, v.Code)
		m.next.box, m.next.codes = price, price
	}
}

// food is what one person of a party cannot eat, in a word of their own.
func (m *anyOrder) food() {
	id, _ := m.pick(shop.Held, shop.Firm)
	v, err := m.BookingByID(m.Ctx, id)
	m.must(err)
	g := rapid.SampledFrom(v.People).Draw(m.g, "guest").GuestID
	word := fmt.Sprintf("zib%dq", g)
	a := shop.Answers{State: shop.HasNeeds, Needs: []shop.NewNeed{{Allergen: "other", Words: word, Severe: rapid.Bool().Draw(m.g, "severe")}}}
	if m.did("food", m.SaveNeeds(m.Ctx, shop.Customer("guest by link"), g, a)) {
		m.words[g] = word
	}
}

// erase takes a payer or a guest out of the records: their name and words are nowhere, and no
// money moves.
func (m *anyOrder) erase() {
	id, b := m.pick()
	var guests []shop.GuestID
	m.rows(&guests, "SELECT id FROM guests WHERE booking_id = ? ORDER BY id", id)
	key := store.PersonKey{Booking: id}
	if len(guests) > 1 && rapid.Bool().Draw(m.g, "a guest") {
		key = store.PersonKey{Guest: guests[len(guests)-1]}
	}
	if !m.did("erase", m.ErasePerson(m.Ctx, storetest.Odile, key, "by letter")) {
		return
	}
	if key.Guest != 0 {
		delete(m.words, key.Guest)
		return
	}
	m.forget(id)
	first, _, _ := strings.Cut(b.name, " ")
	where, err := standsIn(m.Reading(m.Ctx), first)
	m.must(err)
	if where != "" {
		m.g.Fatalf("%s was erased and stands in %s", b.name, where)
	}
}

// holds is what must be true after every command.
func (m *anyOrder) holds() {
	now := m.count()
	if m.next.loose {
		if now.box+now.codes != m.was.box+m.next.box+m.was.codes+m.next.codes {
			m.g.Fatalf("in hand and on codes: %s, before %s, to change by %s", now.box+now.codes, m.was.box+m.was.codes, m.next.box+m.next.codes)
		}
		m.next.box, m.next.codes = now.box-m.was.box, now.codes-m.was.codes
	}
	if now.box != m.was.box+m.next.box {
		m.g.Fatalf("money in hand: %s, before %s, to change by %s", now.box, m.was.box, m.next.box)
	}
	if now.codes != m.was.codes+m.next.codes {
		m.g.Fatalf("left on vouchers and credits: %s, before %s, to change by %s", now.codes, m.was.codes, m.next.codes)
	}
	for id, paid := range now.paid {
		if want := m.was.paid[id] + m.next.paid[id]; paid != want {
			m.g.Fatalf("%s has paid %s, before %s, to change by %s", m.name(id), paid, m.was.paid[id], m.next.paid[id])
		}
		if want := m.was.kept[id] + m.next.kept[id]; now.kept[id] != want {
			m.g.Fatalf("of %s is kept %s, before %s, to change by %s", m.name(id), now.kept[id], m.was.kept[id], m.next.kept[id])
		}
		over := paid - now.kept[id] - now.total[id]
		if over > 0 && now.until[id] == 0 || now.states[id] == shop.LetGo && over != 0 {
			m.g.Fatalf("%s is %s: %s paid, %s kept, %s to pay: %s are owed and nobody can say for what", m.name(id), now.states[id], paid, now.kept[id], now.total[id], over)
		}
	}
	for _, k := range m.begun {
		if k.counts > 1 {
			var n int
			m.rows(&n, "SELECT count(*) FROM payments p JOIN checkouts k ON p.key = 'checkout/' || k.id WHERE k.ref = ?", k.ref)
			if n != 1 {
				m.g.Fatalf("the page %s was paid once, told %d times and counts %d times", k.ref, k.counts, n)
			}
		}
	}
	var back, refunds unit.Money
	m.rows(&back, "SELECT coalesce(-sum(cents), 0) FROM payments WHERE method = 'online' AND cents < 0")
	m.rows(&refunds, "SELECT coalesce(sum(cents), 0) FROM refunds")
	if back != refunds {
		m.g.Fatalf("%s went back online, refunds are %s", back, refunds)
	}
	var done, gave unit.Money
	m.rows(&done, "SELECT coalesce(sum(cents), 0) FROM refunds WHERE state = 'done'")
	for _, c := range m.refunds {
		gave += unit.Money(c)
	}
	if done != gave {
		m.g.Fatalf("the provider gave %s back, the books say %s", gave, done)
	}
	var over []string
	m.rows(&over, `SELECT c.code FROM classes c JOIN seats s ON s.class_id = c.id AND s.kind <> 'watch' AND s.state IN ('held', 'offered', 'firm', 'came', 'missed')
		GROUP BY c.id, c.code, c.seats HAVING count(*) > c.seats`)
	if len(over) > 0 {
		m.g.Fatalf("oversold: %v", over)
	}
	check := m.CheckMoney
	if m.n++; m.n%4 == 0 {
		check = m.Check
	}
	found, err := check(m.Ctx)
	m.must(err)
	for _, f := range found {
		if len(f.Broken) > 0 {
			m.g.Fatalf("%s: %v", f.Rule, f.Broken)
		}
	}
	m.was, m.next = now, change{}
}

func (m *anyOrder) name(id shop.BookingID) string {
	if b := m.books[id]; b != nil {
		return fmt.Sprintf("booking %d (%s)", id, b.name)
	}
	return fmt.Sprintf("booking %d", id)
}
