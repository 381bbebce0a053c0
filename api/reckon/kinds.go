package reckon

// kinds is every reckoning there is, in reading order: one line a kind.
var kinds = []kind{
	cureKind,
	readyKind,
	yieldKind,
	slabsKind,
	cuttingTestKind,
	demandKind,
	seasonKind,
	smokeKind,
	heatKind,
	coolingKind,
	orderKind,
	givebackKind,
}
