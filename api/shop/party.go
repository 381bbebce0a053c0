package shop

import (
	"fmt"
	"slices"

	"flitchbook/planner/unit"
)

// NewBooking is what a customer or the counter asks for: a payer, and one person for
// each place at the table.
type NewBooking struct {
	Number        int    // of a booking kept on paper until now; 0: the next free one
	Class         string // code
	Counter       bool   // by staff for somebody: held for days, e-mail optional
	PayLater      bool   // booked on a page of a shop without an online till: held for days too
	PayerName     string
	PayerEmail    string
	PayerPhone    string
	Collector     string // "" means the payer fetches
	CollectorMail string
	Sliced        bool
	Note          string
	People        []NewPerson
}

// Picks says whether anybody has chosen a jar yet.
func (n NewBooking) Picks() bool {
	for _, p := range n.People {
		for _, code := range p.Picks {
			if code != "" && code != OnTheDayPick {
				return true
			}
		}
	}
	return false
}

// NewPerson is one person of the party. A name may come later; "not told" is an answer.
type NewPerson struct {
	Name   string
	Email  string
	Age    int // on the day of the class; 0: grown up
	Seat   SeatKind
	Second bool // a second slab on the seat
	Payer  bool // this is the payer
	Wine   bool
	Needs  Answers
	Picks  []string // jar code per slab; "" open, "day" chosen at the table
}

// Answers is what a person says about food (R12). The zero value is "not told".
type Answers struct {
	State    NeedsState
	Needs    []NewNeed
	Remember bool
}

// NewNeed is one thing a person cannot or will not eat.
type NewNeed struct {
	Allergen string
	Severe   bool
	Words    string
}

// GuestAnswers is everything one person says on their own page, saved as one.
type GuestAnswers struct {
	Name    string
	Age     int // 0: grown up
	Wine    bool
	Answers Answers        // State "" leaves what was answered before
	Picks   map[int]string // by slab of the seat; slabs not named stay as they are
}

// OnTheDayPick is what a pick says when the guest will choose at the table.
const OnTheDayPick = "day"

// A Party knows how many places, slabs and watchers it has.
type Party struct{ Places, Watching, Slabs int }

// Count reckons a party.
func Count(people []NewPerson) Party {
	var p Party
	for _, m := range people {
		switch m.Seat {
		case WatchSeat:
			p.Watching++
		case SlabSeat:
			p.Places, p.Slabs = p.Places+1, p.Slabs+1
			if m.Second {
				p.Slabs++
			}
		default:
			p.Places++
		}
	}
	return p
}

// MostPeople in one booking; more is a private party arranged at the counter.
const MostPeople = 40

// Check returns every wrong answer at once. It fills in the seat kind where a person
// names none.
func (n *NewBooking) Check(k ClassKind) error {
	var w Wrong
	if n.Number < 0 || n.Number > 9_999_999 {
		w.Add("number", "That is not a booking number.")
	}
	if n.PayerName == "" {
		w.Add("name", "Who pays? Please write a name.")
	}
	plainText(&w, "name", n.PayerName, 80)
	if n.PayerEmail != "" {
		w.AddErr("email", Email(n.PayerEmail))
	} else if !n.Counter {
		w.Add("email", "Please write your e-mail address: the confirmation goes there.")
	}
	plainText(&w, "phone", n.PayerPhone, 40)
	plainText(&w, "note", n.Note, 500)
	plainText(&w, "collector", n.Collector, 80)
	if n.CollectorMail != "" {
		w.AddErr("collector_mail", Email(n.CollectorMail))
	}
	if len(n.People) == 0 {
		w.Add("people", "Choose at least one seat.")
	}
	if len(n.People) > MostPeople {
		w.Add("people", "At most %d people in one booking.", MostPeople)
		return w.Err()
	}
	for i := range n.People {
		p := &n.People[i]
		if p.Seat == "" {
			p.Seat = GuestSeat
			if k.Slabs {
				p.Seat = SlabSeat
			}
		}
		p.check(&w, fmt.Sprintf("p%d_", i+1), k)
	}
	checkParty(&w, "people", n.People, k)
	return w.Err()
}

func (p *NewPerson) check(w *Wrong, at string, k ClassKind) {
	plainText(w, at+"name", p.Name, 80)
	if p.Email != "" {
		w.AddErr(at+"email", Email(p.Email))
	}
	switch {
	case p.Seat == WatchSeat && k.WatchAge == 0:
		w.Add(at+"seat", "There are no watching seats in this class.")
	case (p.Seat == SlabSeat) != k.Slabs && p.Seat != WatchSeat, p.Seat == SecondSlab:
		w.Add(at+"seat", "There is no such seat in this class.")
	}
	if p.Second && p.Seat != SlabSeat {
		w.Add(at+"second", "A second slab needs a seat with a slab.")
	}
	youngest := k.MinAge
	if p.Seat == WatchSeat {
		youngest = k.WatchAge
	}
	if p.Age < 0 || p.Age > 120 {
		w.Add(at+"age", "Write the age on the day of the class in years.")
	} else if p.Age > 0 && p.Age < youngest {
		w.Add(at+"age", "This seat is for people of %d and over on the day of the class.", youngest)
	}
	if err := p.Needs.Check(); err != nil {
		e, _ := AsError(err)
		for f, t := range e.Fields {
			w.Add(at+f, "%s", t)
		}
	}
	slabs := Count([]NewPerson{*p}).Slabs
	if len(p.Picks) > slabs {
		w.Add(at+"pick", "There are more spice choices than slabs.")
	}
}

// Check returns what is wrong with the answers.
func (a Answers) Check() error {
	var w Wrong
	switch a.State {
	case "", NotTold, NoNeeds:
		if len(a.Needs) > 0 {
			w.Add("needs", "You ticked something and also said there is nothing. Which is it?")
		}
	case HasNeeds:
		if len(a.Needs) == 0 {
			w.Add("needs", "Please tick what it is, or say there is nothing.")
		}
	default:
		w.Add("needs", "Please choose one of the answers.")
	}
	for _, n := range a.Needs {
		if !slices.Contains(Allergens, n.Allergen) {
			w.Add("needs", "%q is not on our list; tick \"other\" and write it beside.", n.Allergen)
		}
		if n.Allergen == "other" && n.Words == "" {
			w.Add("needs_words", "Please write what it is.")
		}
		plainText(&w, "needs_words", n.Words, 200)
	}
	return w.Err()
}

// checkParty holds a whole party against R1 and R11: watchers and grown-ups.
func checkParty(w *Wrong, field string, people []NewPerson, k ClassKind) {
	c, young := Count(people), 0
	for _, p := range people {
		if p.Age > 0 && p.Age < 18 {
			young++
		}
	}
	if c.Places == 0 && c.Watching > 0 {
		w.Add(field, "A watching seat needs somebody with a slab beside it.")
	} else if c.Watching > c.Places {
		w.Add(field, "At most one watching seat for each seat with a slab.")
	}
	if grown := len(people) - young; k.Slabs && young > 2*grown {
		w.Add(field, "Please bring one grown-up for every two people under 18.")
	}
}

// CheckStay holds the people who stay after others leave against the party rules.
func CheckStay(people []NewPerson, k ClassKind) error {
	if len(people) == 0 {
		return nil
	}
	var w Wrong
	checkParty(&w, "seats", people, k)
	return w.Err()
}

// PaymentIn is money, vouchers and credits brought for a booking.
type PaymentIn struct {
	Cents    unit.Money // money; vouchers and credits come on top
	Method   string     // "till", "cash", "card", "transfer", "online"; "" with no money
	Key      string     // of the till's notice or of the press of the button; the same key counts once (R3)
	Vouchers []string   // codes on the cards
	Credits  []string   // codes from the mails
	Note     string
}

// Check returns every wrong answer at once.
func (p PaymentIn) Check(by Actor) error {
	var w Wrong
	if p.Key == "" || len(p.Key) > 200 {
		w.Add("key", "The payment carries no key; please press the button again.")
	}
	if p.Cents < 0 || p.Cents > 100_000_00 {
		w.Add("cents", "Write an amount of money above zero.")
	}
	switch {
	case p.Cents == 0:
	case p.Method == "till":
	case p.Method == "online": // counted by CheckoutPaid alone
		w.Add("method", "A payment online is counted when the provider tells of it.")
	case !slices.Contains(CounterMethods, p.Method):
		w.Add("method", "Choose how it was paid: cash, card or transfer.")
	case !by.IsStaff():
		w.Add("method", "Cash, card machine and transfer are taken at the counter.")
	}
	if len(p.Vouchers)+len(p.Credits) > 50 {
		w.Add("voucher", "At most fifty vouchers in one payment.")
	}
	plainText(&w, "note", p.Note, 200)
	return w.Err()
}

// CounterMethods are the ways money comes in at the counter.
var CounterMethods = []string{"cash", "card", "transfer"}
