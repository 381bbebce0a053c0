package shop

import "flitchbook/planner/unit"

// NewVoucher is a present somebody buys.
type NewVoucher struct {
	Kind          string     // "seat" or "money"
	ClassKind     string     // of a seat voucher
	Cents         unit.Money // of a money voucher; of a seat voucher 0 takes today's price
	BuyerName     string
	BuyerEmail    string
	ReceiverName  string
	ReceiverEmail string
	SendOn        unit.Day // the giver's day; none: the card is handed over by the giver
	SoldOn        unit.Day // by staff, of a voucher sold before this program kept them; none: today
}

// Check returns every wrong answer at once.
func (n NewVoucher) Check(today unit.Day, by Actor) error {
	var w Wrong
	switch n.Kind {
	case "seat":
		if n.ClassKind == "" {
			w.Add("class_kind", "For which kind of class?")
		}
		if n.Cents != 0 && !by.IsStaff() {
			w.Add("cents", "A seat costs what the season page says.")
		}
	case "money":
		if n.Cents < 5_00 || n.Cents > 2_000_00 {
			w.Add("amount", "Choose a sum from $5.00 to $2000.00.")
		}
	default:
		w.Add("kind", "A seat, or a sum of money?")
	}
	if n.BuyerName == "" {
		w.Add("name", "Who gives it? Please write a name.")
	}
	plainText(&w, "name", n.BuyerName, 80)
	plainText(&w, "receiver", n.ReceiverName, 80)
	if n.BuyerEmail != "" {
		w.AddErr("email", Email(n.BuyerEmail))
	} else if !by.IsStaff() {
		w.Add("email", "Please write your e-mail address: the receipt goes there.")
	}
	if n.ReceiverEmail != "" {
		w.AddErr("receiver_email", Email(n.ReceiverEmail))
		if n.SendOn == 0 {
			w.Add("send_on", "On which day shall it arrive?")
		}
	}
	if n.SendOn != 0 && n.SendOn < today {
		w.Add("send_on", "That day has passed.")
	}
	if n.SoldOn != 0 && (!by.IsStaff() || n.SoldOn > today) {
		w.Add("sold_on", "The day it was sold lies ahead.")
	}
	return w.Err()
}
