package browsertest

import (
	"strconv"
	"testing"
)

// On opens a page once and draws its window to each of the screens, the narrowest first. On
// each, nothing may be wider than the screen, and what is pressed in forms and rows of buttons
// must measure side CSS pixels at least; axe-core must find nothing on the first and the last.
// more looks further, screen by screen.
func (b *Browser) On(t *testing.T, name, path string, side int64, screens []Screen, more ...func(t *testing.T, tab *Tab)) {
	t.Helper()
	t.Run(name, func(t *testing.T) {
		tab := b.Tab(t, screens[0])
		tab.Open(path)
		for i, s := range screens {
			tab.Resize(s)
			tab.Shot(name + "-" + strconv.FormatInt(s.Width, 10))
			tab.Fits()
			if i == 0 || i == len(screens)-1 {
				tab.Axe()
			}
			tab.Target("main form, main .actions", side)
			for _, look := range more {
				look(t, tab)
			}
		}
	})
}

// Look opens each page on phones of 320, 360 and 390 px and on a desk, and with its text at
// twice the size: nothing is wider than the screen (WCAG 2.2, 1.4.4 and 1.4.10), axe-core
// finds nothing on the narrowest and the widest, and what is pressed in forms and rows of
// buttons is 44 px at least. A page is opened once and its window drawn wider.
func (b *Browser) Look(t *testing.T, pages map[string]string) {
	t.Helper()
	for name, path := range pages {
		b.On(t, name, path, 44, []Screen{Narrow, SmallPhone, Phone, Desk}, func(t *testing.T, tab *Tab) {
			tab.Target("main .links, main .days", 44)
			if tab.screen != Phone && tab.screen != Desk {
				return
			}
			if got := Eval[string](tab, `document.documentElement.style.fontSize = "200%", getComputedStyle(document.querySelector("main")).fontSize`); got != "32px" && got != "34px" && got != "36px" {
				t.Errorf("text at twice its size is %s", got)
			}
			tab.Shot(name + "-" + strconv.FormatInt(tab.screen.Width, 10) + "-large")
			tab.Fits()
			Eval[string](tab, `document.documentElement.style.fontSize = ""`)
		})
	}
}
