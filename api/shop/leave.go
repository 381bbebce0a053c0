package shop

// SeatLeave is one seat let go and what its payer would have for it: "money" or
// "credit" where the rule lets them choose, "" otherwise.
type SeatLeave struct {
	Seat   SeatID
	Choice string
}

// LeaveIn is a party, or a part of it, letting its seats go. No seats named means all.
type LeaveIn struct {
	Seats       []SeatLeave
	Choice      string // for every seat that names none
	CreditName  string // who the credit shall belong to; "" the payer
	CreditEmail string
	Kinder      bool   // by staff: all money back whatever the rule says
	Reason      string // why, when kinder
}

// Check returns every wrong answer at once.
func (l LeaveIn) Check(by Actor) error {
	var w Wrong
	for _, s := range append([]SeatLeave{{Choice: l.Choice}}, l.Seats...) {
		if s.Choice != "" && s.Choice != "money" && s.Choice != "credit" {
			w.Add("choice", "Money or credit?")
		}
	}
	plainText(&w, "credit_name", l.CreditName, 80)
	if l.CreditEmail != "" {
		w.AddErr("credit_email", Email(l.CreditEmail))
	}
	plainText(&w, "reason", l.Reason, 200)
	if l.Kinder && !by.IsStaff() {
		w.Add("kinder", "Only the shop may go beyond its rule.")
	}
	if l.Kinder && l.Reason == "" {
		w.Add("reason", "Please write why: it stands beside the give-back.")
	}
	return w.Err()
}

// The answers to a class that was called off or moved by the shop (R5).
const (
	AnswerMoney  = "money"  // all money back
	AnswerCredit = "credit" // credit of more than the money paid
	AnswerMove   = "move"   // another date, at no cost
	AnswerAccept = "accept" // the new date of a moved class
)
