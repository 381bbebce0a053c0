package frontend

import (
	"net/url"
	"regexp"
	"testing"
)

// The owner looks at the plan, presses once, and the farm is asked; a press on a plan
// that no longer holds orders nothing and shows the new one.
func TestOrdersInOnePress(t *testing.T) {
	o := openOffice(t)
	o.Go("2026-09-14 10:00")
	o.has("/owner/buying", nil, 200, "nothing is left to order")
	o.bacon("B1", "2026-10-10 14:00", 3)
	o.bacon("B2", "2026-10-17 14:00", 0)
	o.has("/owner/buying?count=sold", nil, 200, "Wed Oct 7", "1 pig", "Wed Sep 16, 17:00", "4 slabs", `aria-current="page">sold`)
	body := o.has("/owner/buying?count=full", nil, 200, "Harl Bank", "2 pigs", "= $584.40", "No other way is cheaper", "11 slabs ÷ 3 a belly = 4 bellies", "The next best ways")
	mark := regexp.MustCompile(`name="mark" value="(\w+)"`).FindStringSubmatch(body)[1]
	press := url.Values{"count": {"full"}, "mark": {mark}, "do": {"ask"}, "once": {"x"}}
	o.bacon("B3", "2026-10-24 14:00", 0)
	body = o.has("/owner/buying", press, 409, "Something has changed since this plan was made", "B3")
	press.Set("mark", regexp.MustCompile(`name="mark" value="(\w+)"`).FindStringSubmatch(body)[1])
	press.Set("once", "y")
	o.has("/owner/buying", press, 200, "Order 1", "Order 3", "asked")
	if o.farmLink() == "" {
		t.Error("no slip has gone out")
	}
	o.has("/owner/buying", press, 200, "Order 3")
	o.has("/owner/buying?count=full", nil, 200, "nothing is left to order")
}
