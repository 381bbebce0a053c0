package carcass

import "flitchbook/planner/unit"

// publishedPork is what is printed about pigs. Four cut lists with four bases and
// trims: choose one.
func publishedPork() []Published {
	dressing := func(r Range) []Figure { return []Figure{{"dressing", OfLive, r}} }
	return []Published{
		{Key: "pork-kentucky", Species: "pig", Animal: "skin-on carcass", Skin: On, Head: NotStated, Figures: dressing(span(7000, 7300)),
			Source: "University of Kentucky Extension ASC-179, table 1", Tag: "read"},
		{Key: "pork-wisconsin", Species: "pig", Animal: "conventional market barrow", Skin: NotStated, Head: NotStated, Figures: dressing(span(7000, 7500)),
			Source: `University of Wisconsin Extension, "How much meat should a hog yield?", table 1`, Tag: "read",
			Note: "gilts, free range and fuller guts lower; skin or head left on, fatter or heavier muscled higher"},
		{Key: "pork-georgia", Species: "pig", Animal: "market hog", Skin: NotStated, Head: NotStated, Figures: dressing(at(7400)),
			Source: `University of Georgia Extension, "Determining Yield of Livestock"; Cornell Small Farms, "Yields and Dressing Percentages", 2012, prints the same`, Date: "2011", Tag: "read"},
		{Key: "pork-plant", Species: "pig", Animal: "one plant, two ways of dressing", Skin: NotStated, Head: NotStated,
			Figures: []Figure{{"dressing, scalded, head and hide on", OfLive, at(8000)}, {"dressing, skinned, head and feet off", OfLive, at(7200)}},
			Source:  "a custom plant's yield page, no author or date", Tag: "read", Note: "a weak source; the lean is the same animal's lean"},
		{Key: "pork-oklahoma", Species: "pig", Animal: "hog of 250 lb live", Skin: NotStated, Head: On, HCW: 180 * unit.Pound, Of: OfHot,
			Figures: []Figure{{"dressing", OfLive, at(7200)}, {"cutting", OfHot, at(8000)}},
			Cuts: weighed(180, "ham", 28., "loin", 23., "side", 23., "ribs", 6., "butt", 9., "picnic", 12., "feet", 3., "head", 5., "back fat", 23.,
				"trim", 9., "jowl", 3.),
			Source: `Oklahoma Department of Agriculture, brochure "How Much Meat?" (hog)`, Tag: "read", Note: "144 lb of 180 are listed"},
		{Key: "pork-nppc", Species: "pig", Animal: "hog of 250 lb live", Skin: On, Head: NotStated, HCW: 184 * unit.Pound, Of: OfHot, Belly: "side without ribs",
			Figures: []Figure{{"dressing", OfLive, at(7360)}},
			Cuts: weighed(184, "ham", 45., "loin", 33.8, "butt", 14.7, "picnic", 16.6, "spareribs", 5.8, "side without ribs", 29.1,
				"jowl, feet, tail, neck bones", 15.4, "skin, fat, bone", 22., "shrink and loss", 1.8),
			Source: `National Pork Producers Council, "Hog carcass breakdown" chart`, Tag: "read",
			Note: "the printed parts add up to 184.2 lb of 184"},
		{Key: "pork-missouri", Species: "pig", Animal: "market hog, product yield", Skin: NotStated, Head: NotStated, Of: OfHot, Belly: "belly",
			Cuts: []PrintedCut{{"ham", at(2200)}, {"loin", at(1600)}, {"butt", at(900)}, {"picnic", at(900)}, {"belly", at(1300)},
				{"ribs, clear plate, jowl, front foot", at(1400)}},
			Source: "University of Missouri Extension, Ag Connection, product-yield table", Tag: "read", Note: "17 % is not listed"},
		{Key: "pork-tas-light", Species: "pig", Animal: "light class", Skin: NotStated, Head: NotStated, HCW: unit.WeightOfGrams(88_070), Shrink: hundredths(220), Of: OfSide, Belly: "belly",
			Figures: []Figure{{"carcass cutting yield", OfCold, at(8744)}},
			Cuts:    []PrintedCut{{"ham", at(2460)}, {"loin", at(2207)}, {"butt", at(915)}, {"picnic", at(1049)}, {"ribs", at(374)}, {"belly", at(1529)}},
			Source:  "Translational Animal Science 1(1):77–89, table 2", Date: "2017", Tag: "read",
			Note: "whole ham, trimmed loin, natural-fall belly; model means: a printed share is not the quotient of two printed weights; shrink derived"},
		{Key: "pork-tas-average", Species: "pig", Animal: "average class", Skin: NotStated, Head: NotStated, HCW: unit.WeightOfGrams(92_540), Shrink: hundredths(390), Of: OfSide, Belly: "belly",
			Figures: []Figure{{"carcass cutting yield", OfCold, at(8751)}},
			Cuts:    []PrintedCut{{"ham", at(2558)}, {"loin", at(2297)}, {"butt", at(986)}, {"picnic", at(1078)}, {"ribs", at(362)}, {"belly", at(1600)}},
			Source:  "Translational Animal Science 1(1):77–89, table 2", Date: "2017", Tag: "read",
			Note: "whole ham, trimmed loin, natural-fall belly; model means: a printed share is not the quotient of two printed weights; shrink derived"},
		{Key: "pork-usda-2019", Species: "pig", Animal: "205 lb carcass, 53–54 % lean", Skin: NotStated, Head: NotStated, Of: OfHot,
			Cuts: []PrintedCut{{"ham", span(2300, 2500)}, {"loin", span(2600, 2800)}, {"butt", at(900)}, {"picnic", span(1300, 1400)}, {"spareribs", at(500)},
				{"belly", span(1600, 1700)}, {"other", span(400, 600)}},
			Source: "least squares on 18 daily composites of USDA reports LM_PK600 and LM_PK602", Date: "2019", Tag: "derived", Note: "a sanity band only"},
		{Key: "pork-belly-1980", Species: "pig", Animal: "1,798 carcasses of 55–104 kg", Skin: On, Head: NotStated, SampleSize: 1798,
			Figures: []Figure{{"untrimmed belly, ribs in", OfSide, at(1890)}, {"ribs of an untrimmed belly", OfCut, at(1820)},
				{"squaring of an untrimmed belly", OfCut, at(420)}, {"skin of an untrimmed belly", OfCut, at(1090)}},
			Source: "Journal of Animal Science, abstract of a belly study", Date: "1980", Tag: "read"},
		{Key: "pork-belly-2022", Species: "pig", Animal: "pigs of 115 kg live, narrower cut", Skin: NotStated, Head: NotStated,
			Figures: []Figure{{"both bellies", OfHot, span(1160, 1180)}},
			Source:  "Journal of Animal Science and Technology 64(2):353, table 2", Date: "2022", Tag: "read"},
		heritage("pork-guinea", "American Guinea", 6600, 2400, 7300),
		heritage("pork-hereford", "Hereford", 7500, 4200, 6900),
		heritage("pork-tamworth", "Tamworth", 7500, 4300, 7300),
		heritage("pork-large-black", "Large Black", 6900, 3200, 6600),
	}
}

// heritage is one breed of the pasture trial: seven piglets a breed.
func heritage(key, breed string, saleable, lean, charcuterie int64) Published {
	return Published{Key: key, Species: "pig", Animal: breed, Skin: NotStated, Head: NotStated, SampleSize: 7,
		Figures: []Figure{{"saleable, usual cuts", OfCold, at(saleable)}, {"lean", OfCold, at(lean)}, {"saleable, charcuterie cuts", OfCold, at(charcuterie)}},
		Source:  `University of Kentucky, "Heritage Hog Carcass Yields"`, Date: "2014", Tag: "read"}
}
