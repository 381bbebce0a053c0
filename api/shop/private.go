package shop

import "flitchbook/planner/unit"

// PrivateOffer is what a party of its own may have: a kind of class with the room to itself.
type PrivateOffer struct {
	ID        OfferID
	KindID    KindID
	Name      string
	FlatCents unit.Money // for the whole party; 0: the kind's price a head
	Least     int        // people
	Most      int
	Words     string
}

// TableName of the record.
func (PrivateOffer) TableName() string { return "private_offers" }

// The states of a request.
const (
	QuoteOpen   = "asked"
	QuoteBooked = "booked"
	QuoteClosed = "closed"
)

// QuoteRequest is somebody who asked for an evening of their own. The shop answers; the
// room is theirs only once an event is opened from it.
type QuoteRequest struct {
	ID        RequestID
	OfferID   OfferID
	Day       unit.Day
	Heads     int
	Name      string
	Email     string
	Phone     string
	Words     string
	State     string
	BookingID BookingID // the event opened from it
	Why       string    // it was closed
	AskedAt   unit.Instant
	SettledAt unit.Instant
	SettledBy string
}

// TableName of the record.
func (QuoteRequest) TableName() string { return "quote_requests" }

// NewQuote is what is asked on the page of private events.
type NewQuote struct {
	Offer OfferID
	Day   unit.Day
	Heads int
	Name  string
	Email string
	Phone string
	Words string
}

// Check returns every wrong answer at once; o is the offer named.
func (n NewQuote) Check(o PrivateOffer) error {
	var w Wrong
	if n.Name == "" {
		w.Add("name", "Please write your name.")
	}
	plainText(&w, "name", n.Name, 80)
	if n.Email == "" {
		w.Add("email", "Please write your e-mail address: our answer goes there.")
	} else {
		w.AddErr("email", Email(n.Email))
	}
	plainText(&w, "phone", n.Phone, 40)
	plainText(&w, "words", n.Words, 500)
	if n.Day == 0 {
		w.Add("day", "Choose an evening.")
	}
	switch {
	case n.Heads < o.Least && o.Least == o.Most:
		w.Add("heads", "%s is for %d people.", o.Name, o.Least)
	case n.Heads < o.Least:
		w.Add("heads", "%s is for at least %d people.", o.Name, o.Least)
	case n.Heads > o.Most:
		w.Add("heads", "%s is for at most %d people.", o.Name, o.Most)
	}
	return w.Err()
}

// Review is the answer to the two questions a week after somebody has their bacon: the
// class and the bacon apart.
type Review struct {
	ID         int64
	GuestID    GuestID
	ClassMark  string // one of Marks
	ClassWords string
	BaconMark  string
	BaconWords string
	At         unit.Instant
}

// TableName of the record.
func (Review) TableName() string { return "reviews" }

// Marks are the answers, the best first.
var Marks = []string{"very good", "fine", "not good"}

// Check returns every wrong answer at once.
func (r Review) Check() error {
	var w Wrong
	for _, q := range []struct{ at, mark, words string }{{"class", r.ClassMark, r.ClassWords}, {"bacon", r.BaconMark, r.BaconWords}} {
		known := false
		for _, m := range Marks {
			known = known || q.mark == m
		}
		if !known {
			w.Add(q.at+"_mark", "Please choose one of the three.")
		}
		plainText(&w, q.at+"_words", q.words, 300)
	}
	return w.Err()
}
