-- The whole thread: class, booking, seat, slab, belly, side, animal, order, farm;
-- cure, rooms and places; notices, calendar entries, accounts, history.
-- Instants are seconds since 1970 UTC (0: never), days are text 2026-10-08 (NULL: none),
-- weights nanograms, money cents, shares parts per million, temperatures hundredths of °F.
-- +goose Up

CREATE TABLE settings (
    name TEXT PRIMARY KEY NOT NULL,
    value TEXT NOT NULL DEFAULT ''
) STRICT;

CREATE TABLE class_kinds (
    id INTEGER PRIMARY KEY,
    code TEXT NOT NULL UNIQUE,
    name TEXT NOT NULL DEFAULT '',
    species TEXT NOT NULL DEFAULT '',
    piece TEXT NOT NULL DEFAULT '',
    slabs INTEGER NOT NULL DEFAULT 0 CHECK (slabs IN (0, 1)),
    dinner INTEGER NOT NULL DEFAULT 0 CHECK (dinner IN (0, 1)),
    seats INTEGER NOT NULL DEFAULT 0,
    min_seats INTEGER NOT NULL DEFAULT 0,
    minutes INTEGER NOT NULL DEFAULT 0,
    hang_min INTEGER NOT NULL DEFAULT 0,
    hang_max INTEGER NOT NULL DEFAULT 0,
    hang_target INTEGER NOT NULL DEFAULT 0,
    lead_days INTEGER NOT NULL DEFAULT 0,
    per_unit INTEGER NOT NULL DEFAULT 0,
    bone_in INTEGER NOT NULL DEFAULT 0 CHECK (bone_in IN (0, 1)),
    min_age INTEGER NOT NULL DEFAULT 0,
    watch_age INTEGER NOT NULL DEFAULT 0,
    does TEXT NOT NULL DEFAULT '',
    sees TEXT NOT NULL DEFAULT '',
    eats TEXT NOT NULL DEFAULT '',
    takes TEXT NOT NULL DEFAULT '',
    wear TEXT NOT NULL DEFAULT '',
    access TEXT NOT NULL DEFAULT '',
    asked TEXT NOT NULL DEFAULT ''
) STRICT;

CREATE TABLE prices (
    id INTEGER PRIMARY KEY,
    kind_id INTEGER NOT NULL REFERENCES class_kinds (id),
    seat TEXT NOT NULL DEFAULT '',
    cents INTEGER NOT NULL DEFAULT 0,
    from_at INTEGER NOT NULL DEFAULT 0,
    UNIQUE (kind_id, seat, from_at),
    CHECK (cents >= 0)
) STRICT;

CREATE TABLE plants (
    id INTEGER PRIMARY KEY,
    name TEXT NOT NULL DEFAULT '',
    number TEXT NOT NULL DEFAULT '',
    kill_weekdays TEXT NOT NULL DEFAULT '',
    delivery_weekday INTEGER NOT NULL DEFAULT 0,
    delivery_window TEXT NOT NULL DEFAULT ''
) STRICT;

CREATE TABLE plant_closures (
    id INTEGER PRIMARY KEY,
    plant_id INTEGER NOT NULL REFERENCES plants (id),
    from_day TEXT NOT NULL,
    to_day TEXT NOT NULL,
    species TEXT NOT NULL DEFAULT '',
    reason TEXT NOT NULL DEFAULT '',
    announced_at INTEGER NOT NULL DEFAULT 0
) STRICT;

CREATE TABLE kill_days (
    id INTEGER PRIMARY KEY,
    plant_id INTEGER NOT NULL REFERENCES plants (id),
    day TEXT NOT NULL,
    delivery_day TEXT NOT NULL,
    UNIQUE (plant_id, day)
) STRICT;

CREATE TABLE slots (
    id INTEGER PRIMARY KEY,
    kill_day_id INTEGER NOT NULL REFERENCES kill_days (id),
    species TEXT NOT NULL DEFAULT '',
    capacity INTEGER NOT NULL DEFAULT 0,
    taken INTEGER NOT NULL DEFAULT 0,
    UNIQUE (kill_day_id, species),
    CHECK (taken BETWEEN 0 AND capacity)
) STRICT;

CREATE TABLE farms (
    id INTEGER PRIMARY KEY,
    code TEXT NOT NULL UNIQUE,
    name TEXT NOT NULL DEFAULT '',
    email TEXT NOT NULL DEFAULT '',
    haul_cents INTEGER NOT NULL DEFAULT 0
) STRICT;

CREATE TABLE yield_profiles (
    id INTEGER PRIMARY KEY,
    farm_id INTEGER NOT NULL REFERENCES farms (id),
    species TEXT NOT NULL DEFAULT '',
    breed TEXT NOT NULL DEFAULT '',
    hcw INTEGER NOT NULL DEFAULT 0,
    shrink INTEGER NOT NULL DEFAULT 0,
    belly INTEGER NOT NULL DEFAULT 0,
    squaring INTEGER NOT NULL DEFAULT 0,
    skin INTEGER NOT NULL DEFAULT 0,
    cuts TEXT NOT NULL DEFAULT '',
    price_per_pound INTEGER NOT NULL DEFAULT 0,
    kill_fee INTEGER NOT NULL DEFAULT 0,
    source TEXT NOT NULL DEFAULT '',
    sample_size INTEGER NOT NULL DEFAULT 0,
    prior TEXT NOT NULL DEFAULT '',
    since TEXT
) STRICT;

CREATE TABLE cutting_tests (
    id INTEGER PRIMARY KEY,
    day TEXT NOT NULL,
    name TEXT NOT NULL DEFAULT '',
    farm_id INTEGER NOT NULL DEFAULT 0,
    species TEXT NOT NULL DEFAULT '',
    whole_side INTEGER NOT NULL DEFAULT 0 CHECK (whole_side IN (0, 1)),
    bought INTEGER NOT NULL DEFAULT 0,
    price INTEGER NOT NULL DEFAULT 0,
    parts TEXT NOT NULL DEFAULT '',
    usable_name TEXT NOT NULL DEFAULT '',
    usable INTEGER NOT NULL DEFAULT 0,
    cooked INTEGER NOT NULL DEFAULT 0,
    carving INTEGER NOT NULL DEFAULT 0,
    portion INTEGER NOT NULL DEFAULT 0,
    note TEXT NOT NULL DEFAULT '',
    made_at INTEGER NOT NULL DEFAULT 0,
    actor TEXT NOT NULL DEFAULT '',
    CHECK (usable > 0 AND usable <= bought AND price >= 0)
) STRICT;

CREATE TABLE outlets (
    id INTEGER PRIMARY KEY,
    species TEXT NOT NULL DEFAULT '',
    cut TEXT NOT NULL DEFAULT '',
    way TEXT NOT NULL DEFAULT '',
    week INTEGER NOT NULL DEFAULT 0,
    price INTEGER NOT NULL DEFAULT 0,
    UNIQUE (species, cut, way),
    CHECK (week >= 0 AND price >= 0)
) STRICT;

CREATE TABLE orders (
    id INTEGER PRIMARY KEY,
    number INTEGER NOT NULL UNIQUE,
    farm_id INTEGER NOT NULL REFERENCES farms (id),
    kill_day_id INTEGER NOT NULL REFERENCES kill_days (id),
    species TEXT NOT NULL DEFAULT '',
    state TEXT NOT NULL DEFAULT '',
    animals INTEGER NOT NULL DEFAULT 0,
    promised INTEGER NOT NULL DEFAULT 0,
    delivered INTEGER NOT NULL DEFAULT 0,
    condemned INTEGER NOT NULL DEFAULT 0,
    slots INTEGER NOT NULL DEFAULT 0,
    deliver_on TEXT,
    order_by INTEGER NOT NULL DEFAULT 0,
    price_cents INTEGER NOT NULL DEFAULT 0,
    kill_fee INTEGER NOT NULL DEFAULT 0,
    haul_cents INTEGER NOT NULL DEFAULT 0,
    why TEXT NOT NULL DEFAULT '',
    answer TEXT NOT NULL DEFAULT '',
    short INTEGER NOT NULL DEFAULT 0 CHECK (short IN (0, 1)),
    over INTEGER NOT NULL DEFAULT 0 CHECK (over IN (0, 1)),
    late INTEGER NOT NULL DEFAULT 0 CHECK (late IN (0, 1)),
    link_no INTEGER NOT NULL DEFAULT 0,
    token_hash TEXT NOT NULL UNIQUE,
    revision INTEGER NOT NULL DEFAULT 0,
    created_at INTEGER NOT NULL DEFAULT 0,
    asked_at INTEGER NOT NULL DEFAULT 0,
    answered_at INTEGER NOT NULL DEFAULT 0,
    CHECK (animals >= 0 AND promised >= 0 AND delivered >= 0 AND condemned >= 0 AND slots >= 0)
) STRICT;

CREATE TABLE classes (
    id INTEGER PRIMARY KEY,
    code TEXT NOT NULL UNIQUE,
    kind_id INTEGER NOT NULL REFERENCES class_kinds (id),
    title TEXT NOT NULL DEFAULT '',
    starts_at INTEGER NOT NULL DEFAULT 0,
    ends_at INTEGER NOT NULL DEFAULT 0,
    day TEXT NOT NULL,
    seats INTEGER NOT NULL DEFAULT 0,
    seats_taken INTEGER NOT NULL DEFAULT 0,
    min_seats INTEGER NOT NULL DEFAULT 0,
    state TEXT NOT NULL DEFAULT '',
    demo_slabs INTEGER NOT NULL DEFAULT 0,
    again_slabs INTEGER NOT NULL DEFAULT 0,
    private INTEGER NOT NULL DEFAULT 0 CHECK (private IN (0, 1)),
    flat_cents INTEGER NOT NULL DEFAULT 0,
    kill_day_id INTEGER NOT NULL DEFAULT 0,
    order_id INTEGER NOT NULL DEFAULT 0,
    decide_at INTEGER NOT NULL DEFAULT 0,
    needs_asked_at INTEGER NOT NULL DEFAULT 0,
    sequence INTEGER NOT NULL DEFAULT 0,
    revision INTEGER NOT NULL DEFAULT 0,
    created_at INTEGER NOT NULL DEFAULT 0,
    CHECK (seats_taken BETWEEN 0 AND seats),
    CHECK (demo_slabs >= 0),
    CHECK (again_slabs >= 0),
    CHECK (ends_at > starts_at)
) STRICT;

CREATE INDEX classes_day ON classes (day);

CREATE INDEX classes_kind ON classes (kind_id, starts_at);

CREATE TABLE order_lines (
    id INTEGER PRIMARY KEY,
    order_id INTEGER NOT NULL REFERENCES orders (id),
    class_id INTEGER NOT NULL DEFAULT 0,
    piece TEXT NOT NULL DEFAULT '',
    wanted INTEGER NOT NULL DEFAULT 0,
    reason TEXT NOT NULL DEFAULT ''
) STRICT;

CREATE INDEX order_lines_order ON order_lines (order_id);

CREATE TABLE closed_days (
    day TEXT PRIMARY KEY NOT NULL,
    reason TEXT NOT NULL DEFAULT '',
    counter INTEGER NOT NULL DEFAULT 0 CHECK (counter IN (0, 1)),
    work INTEGER NOT NULL DEFAULT 0 CHECK (work IN (0, 1))
) STRICT;

CREATE TABLE bookings (
    id INTEGER PRIMARY KEY,
    number INTEGER NOT NULL UNIQUE,
    class_id INTEGER NOT NULL REFERENCES classes (id),
    state TEXT NOT NULL DEFAULT '',
    source TEXT NOT NULL DEFAULT '',
    payer_name TEXT NOT NULL DEFAULT '',
    payer_email TEXT NOT NULL DEFAULT '',
    payer_phone TEXT NOT NULL DEFAULT '',
    collector TEXT NOT NULL DEFAULT '',
    collector_mail TEXT NOT NULL DEFAULT '',
    sliced INTEGER NOT NULL DEFAULT 0 CHECK (sliced IN (0, 1)),
    note TEXT NOT NULL DEFAULT '',
    seat_cents INTEGER NOT NULL DEFAULT 0,
    watch_cents INTEGER NOT NULL DEFAULT 0,
    second_cents INTEGER NOT NULL DEFAULT 0,
    total_cents INTEGER NOT NULL DEFAULT 0,
    paid_cents INTEGER NOT NULL DEFAULT 0,
    kept_cents INTEGER NOT NULL DEFAULT 0,
    earned_cents INTEGER NOT NULL DEFAULT 0,
    deposit_cents INTEGER NOT NULL DEFAULT 0,
    balance_due_on TEXT,
    firm_at INTEGER NOT NULL DEFAULT 0,
    answer_until INTEGER NOT NULL DEFAULT 0,
    link_no INTEGER NOT NULL DEFAULT 0,
    token_hash TEXT NOT NULL UNIQUE,
    slab_hash TEXT NOT NULL DEFAULT '',
    let_go_reason TEXT NOT NULL DEFAULT '',
    revision INTEGER NOT NULL DEFAULT 0,
    created_at INTEGER NOT NULL DEFAULT 0,
    CHECK (total_cents >= 0 AND paid_cents >= 0 AND kept_cents >= 0)
) STRICT;

CREATE INDEX bookings_class ON bookings (class_id);

CREATE UNIQUE INDEX bookings_slab_link ON bookings (slab_hash) WHERE slab_hash <> '';

CREATE INDEX bookings_payer ON bookings (lower(payer_email));

CREATE INDEX bookings_answer ON bookings (answer_until) WHERE answer_until > 0;

CREATE TABLE guests (
    id INTEGER PRIMARY KEY,
    booking_id INTEGER NOT NULL REFERENCES bookings (id),
    name TEXT NOT NULL DEFAULT '',
    email TEXT NOT NULL DEFAULT '',
    age INTEGER NOT NULL DEFAULT 0,
    payer INTEGER NOT NULL DEFAULT 0 CHECK (payer IN (0, 1)),
    needs_state TEXT NOT NULL DEFAULT '',
    remember INTEGER NOT NULL DEFAULT 0 CHECK (remember IN (0, 1)),
    guardian_signed INTEGER NOT NULL DEFAULT 0 CHECK (guardian_signed IN (0, 1)),
    wine INTEGER NOT NULL DEFAULT 0 CHECK (wine IN (0, 1)),
    link_no INTEGER NOT NULL DEFAULT 0,
    token_hash TEXT NOT NULL UNIQUE
) STRICT;

CREATE INDEX guests_booking ON guests (booking_id);

CREATE INDEX guests_email ON guests (lower(email));

CREATE INDEX guests_told ON guests (booking_id) WHERE needs_state <> 'not told' AND NOT remember;

CREATE TABLE needs (
    id INTEGER PRIMARY KEY,
    guest_id INTEGER NOT NULL REFERENCES guests (id),
    allergen TEXT NOT NULL DEFAULT '',
    severe INTEGER NOT NULL DEFAULT 0 CHECK (severe IN (0, 1)),
    words TEXT NOT NULL DEFAULT ''
) STRICT;

CREATE INDEX needs_guest ON needs (guest_id);

CREATE TABLE seats (
    id INTEGER PRIMARY KEY,
    booking_id INTEGER NOT NULL REFERENCES bookings (id),
    class_id INTEGER NOT NULL REFERENCES classes (id),
    guest_id INTEGER NOT NULL REFERENCES guests (id),
    kind TEXT NOT NULL DEFAULT '',
    slabs INTEGER NOT NULL DEFAULT 0,
    position INTEGER NOT NULL DEFAULT 0,
    state TEXT NOT NULL DEFAULT '',
    CHECK (slabs BETWEEN 0 AND 2)
) STRICT;

CREATE INDEX seats_booking ON seats (booking_id);

CREATE INDEX seats_class ON seats (class_id, state);

CREATE INDEX seats_guest ON seats (guest_id);

CREATE TABLE jars (
    id INTEGER PRIMARY KEY,
    code TEXT NOT NULL UNIQUE,
    name TEXT NOT NULL DEFAULT '',
    rate INTEGER NOT NULL DEFAULT 0,
    contents TEXT NOT NULL DEFAULT '',
    allergens TEXT NOT NULL DEFAULT ''
) STRICT;

CREATE TABLE jars_away (
    class_id INTEGER NOT NULL REFERENCES classes (id),
    jar_id INTEGER NOT NULL REFERENCES jars (id),
    since INTEGER NOT NULL DEFAULT 0,
    PRIMARY KEY (class_id, jar_id)
) STRICT;

CREATE TABLE dishes (
    id INTEGER PRIMARY KEY,
    name TEXT NOT NULL UNIQUE,
    holds TEXT NOT NULL DEFAULT '',
    board TEXT NOT NULL DEFAULT '',
    gone_at INTEGER NOT NULL DEFAULT 0
) STRICT;

CREATE TABLE menus (
    kind_id INTEGER NOT NULL REFERENCES class_kinds (id),
    dish_id INTEGER NOT NULL REFERENCES dishes (id),
    PRIMARY KEY (kind_id, dish_id)
) STRICT;

CREATE TABLE class_dishes (
    class_id INTEGER NOT NULL REFERENCES classes (id),
    dish_id INTEGER NOT NULL REFERENCES dishes (id),
    served INTEGER NOT NULL DEFAULT 0 CHECK (served IN (0, 1)),
    since INTEGER NOT NULL DEFAULT 0,
    PRIMARY KEY (class_id, dish_id)
) STRICT;

CREATE TABLE picks (
    id INTEGER PRIMARY KEY,
    seat_id INTEGER NOT NULL REFERENCES seats (id),
    slot INTEGER NOT NULL DEFAULT 0,
    jar_id INTEGER NOT NULL DEFAULT 0,
    state TEXT NOT NULL DEFAULT '',
    note TEXT NOT NULL DEFAULT '',
    UNIQUE (seat_id, slot)
) STRICT;

CREATE INDEX picks_state ON picks (state);

CREATE TABLE seat_holds (
    id INTEGER PRIMARY KEY,
    booking_id INTEGER NOT NULL REFERENCES bookings (id),
    class_id INTEGER NOT NULL REFERENCES classes (id),
    seats INTEGER NOT NULL DEFAULT 0,
    until INTEGER NOT NULL DEFAULT 0,
    grace_until INTEGER NOT NULL DEFAULT 0,
    ended_at INTEGER NOT NULL DEFAULT 0,
    reason TEXT NOT NULL DEFAULT ''
) STRICT;

CREATE UNIQUE INDEX seat_holds_open ON seat_holds (booking_id) WHERE ended_at = 0;

CREATE INDEX seat_holds_due ON seat_holds (until) WHERE ended_at = 0;

CREATE INDEX seat_holds_class ON seat_holds (class_id) WHERE ended_at = 0;

CREATE TABLE waiting_entries (
    id INTEGER PRIMARY KEY,
    class_id INTEGER NOT NULL REFERENCES classes (id),
    booking_id INTEGER NOT NULL REFERENCES bookings (id),
    seats INTEGER NOT NULL DEFAULT 0,
    joined_at INTEGER NOT NULL DEFAULT 0,
    offer_sent_at INTEGER NOT NULL DEFAULT 0,
    offer_until INTEGER NOT NULL DEFAULT 0,
    ended_at INTEGER NOT NULL DEFAULT 0,
    outcome TEXT NOT NULL DEFAULT ''
) STRICT;

CREATE UNIQUE INDEX waiting_open ON waiting_entries (booking_id) WHERE ended_at = 0;

CREATE INDEX waiting_class ON waiting_entries (class_id) WHERE ended_at = 0;

CREATE TABLE resales (
    id INTEGER PRIMARY KEY,
    class_id INTEGER NOT NULL REFERENCES classes (id),
    booking_id INTEGER NOT NULL REFERENCES bookings (id),
    seat_id INTEGER NOT NULL UNIQUE REFERENCES seats (id),
    cents INTEGER NOT NULL DEFAULT 0,
    owner_name TEXT NOT NULL DEFAULT '',
    owner_email TEXT NOT NULL DEFAULT '',
    left_at INTEGER NOT NULL DEFAULT 0,
    sold_at INTEGER NOT NULL DEFAULT 0
) STRICT;

CREATE INDEX resales_class ON resales (class_id) WHERE sold_at = 0;

CREATE TABLE vouchers (
    id INTEGER PRIMARY KEY,
    code_hash TEXT NOT NULL UNIQUE,
    code_end TEXT NOT NULL DEFAULT '',
    kind TEXT NOT NULL DEFAULT '',
    kind_id INTEGER NOT NULL DEFAULT 0,
    paid_cents INTEGER NOT NULL DEFAULT 0,
    left_cents INTEGER NOT NULL DEFAULT 0,
    state TEXT NOT NULL DEFAULT '',
    buyer_name TEXT NOT NULL DEFAULT '',
    buyer_email TEXT NOT NULL DEFAULT '',
    receiver_name TEXT NOT NULL DEFAULT '',
    receiver_email TEXT NOT NULL DEFAULT '',
    send_on TEXT,
    sold_on TEXT NOT NULL,
    expires_on TEXT NOT NULL,
    CHECK (left_cents >= 0)
) STRICT;

CREATE TABLE credits (
    id INTEGER PRIMARY KEY,
    owner_name TEXT NOT NULL DEFAULT '',
    owner_email TEXT NOT NULL DEFAULT '',
    cents INTEGER NOT NULL DEFAULT 0,
    left_cents INTEGER NOT NULL DEFAULT 0,
    state TEXT NOT NULL DEFAULT '',
    reason TEXT NOT NULL DEFAULT '',
    booking_id INTEGER NOT NULL DEFAULT 0,
    expires_on TEXT NOT NULL,
    created_at INTEGER NOT NULL DEFAULT 0,
    CHECK (left_cents BETWEEN 0 AND cents)
) STRICT;

CREATE TABLE payments (
    id INTEGER PRIMARY KEY,
    booking_id INTEGER NOT NULL DEFAULT 0,
    voucher_id INTEGER NOT NULL DEFAULT 0,
    credit_id INTEGER NOT NULL DEFAULT 0,
    cents INTEGER NOT NULL DEFAULT 0,
    method TEXT NOT NULL DEFAULT '',
    key TEXT NOT NULL UNIQUE,
    note TEXT NOT NULL DEFAULT '',
    at INTEGER NOT NULL DEFAULT 0,
    actor TEXT NOT NULL DEFAULT ''
) STRICT;

CREATE INDEX payments_booking ON payments (booking_id);

CREATE INDEX payments_voucher ON payments (voucher_id) WHERE voucher_id <> 0;

CREATE INDEX payments_credit ON payments (credit_id) WHERE credit_id <> 0;

CREATE TABLE checkouts (
    id INTEGER PRIMARY KEY,
    key TEXT NOT NULL UNIQUE,
    booking_id INTEGER NOT NULL DEFAULT 0,
    voucher_id INTEGER NOT NULL DEFAULT 0,
    cents INTEGER NOT NULL DEFAULT 0,
    codes TEXT NOT NULL DEFAULT '',
    sale TEXT NOT NULL DEFAULT '',
    state TEXT NOT NULL DEFAULT '',
    ref TEXT NOT NULL DEFAULT '',
    payment_ref TEXT NOT NULL DEFAULT '',
    url TEXT NOT NULL DEFAULT '',
    outcome TEXT NOT NULL DEFAULT '',
    created_at INTEGER NOT NULL DEFAULT 0,
    paid_at INTEGER NOT NULL DEFAULT 0,
    ask_at INTEGER NOT NULL DEFAULT 0,
    asked INTEGER NOT NULL DEFAULT 0,
    CHECK (cents > 0)
) STRICT;

CREATE UNIQUE INDEX checkouts_ref ON checkouts (ref) WHERE ref <> '';

CREATE INDEX checkouts_booking ON checkouts (booking_id);

CREATE TABLE refunds (
    id INTEGER PRIMARY KEY,
    key TEXT NOT NULL UNIQUE,
    checkout_id INTEGER NOT NULL REFERENCES checkouts (id),
    booking_id INTEGER NOT NULL DEFAULT 0,
    cents INTEGER NOT NULL DEFAULT 0,
    state TEXT NOT NULL DEFAULT '',
    ref TEXT NOT NULL DEFAULT '',
    due_at INTEGER NOT NULL DEFAULT 0,
    leased_until INTEGER NOT NULL DEFAULT 0,
    attempts INTEGER NOT NULL DEFAULT 0,
    last_error TEXT NOT NULL DEFAULT '',
    created_at INTEGER NOT NULL DEFAULT 0,
    ended_at INTEGER NOT NULL DEFAULT 0,
    CHECK (cents > 0)
) STRICT;

CREATE INDEX refunds_checkout ON refunds (checkout_id);

CREATE TABLE ledger_entries (
    id INTEGER PRIMARY KEY,
    key TEXT NOT NULL UNIQUE,
    at INTEGER NOT NULL DEFAULT 0,
    day TEXT NOT NULL,
    text TEXT NOT NULL DEFAULT '',
    actor TEXT NOT NULL DEFAULT '',
    booking_id INTEGER NOT NULL DEFAULT 0
) STRICT;

CREATE INDEX ledger_entries_day ON ledger_entries (day);

CREATE INDEX ledger_entries_booking ON ledger_entries (booking_id);

CREATE TABLE ledger_lines (
    id INTEGER PRIMARY KEY,
    entry_id INTEGER NOT NULL REFERENCES ledger_entries (id),
    account TEXT NOT NULL,
    subject INTEGER NOT NULL DEFAULT 0,
    cents INTEGER NOT NULL DEFAULT 0,
    CHECK (cents <> 0)
) STRICT;

CREATE INDEX ledger_lines_entry ON ledger_lines (entry_id);

CREATE INDEX ledger_lines_account ON ledger_lines (account, subject);

-- The ledger is only added to.

-- +goose StatementBegin
CREATE TRIGGER ledger_entries_no_update BEFORE UPDATE ON ledger_entries BEGIN
    SELECT RAISE(ABORT, 'the ledger is only added to');
END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER ledger_entries_no_delete BEFORE DELETE ON ledger_entries BEGIN
    SELECT RAISE(ABORT, 'the ledger is only added to');
END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER ledger_lines_no_update BEFORE UPDATE ON ledger_lines BEGIN
    SELECT RAISE(ABORT, 'the ledger is only added to');
END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER ledger_lines_no_delete BEFORE DELETE ON ledger_lines BEGIN
    SELECT RAISE(ABORT, 'the ledger is only added to');
END;
-- +goose StatementEnd

CREATE TABLE deliveries (
    id INTEGER PRIMARY KEY,
    order_id INTEGER NOT NULL REFERENCES orders (id),
    day TEXT NOT NULL,
    at INTEGER NOT NULL DEFAULT 0,
    legend TEXT NOT NULL DEFAULT '',
    lot TEXT NOT NULL UNIQUE,
    received_by TEXT NOT NULL DEFAULT ''
) STRICT;

CREATE TABLE animals (
    id INTEGER PRIMARY KEY,
    order_id INTEGER NOT NULL REFERENCES orders (id),
    delivery_id INTEGER NOT NULL DEFAULT 0,
    number INTEGER NOT NULL DEFAULT 0,
    tag TEXT NOT NULL DEFAULT '',
    species TEXT NOT NULL DEFAULT '',
    hot INTEGER NOT NULL DEFAULT 0,
    condemned INTEGER NOT NULL DEFAULT 0 CHECK (condemned IN (0, 1)),
    age TEXT NOT NULL DEFAULT '',
    killed_on TEXT,
    UNIQUE (order_id, number)
) STRICT;

CREATE TABLE sides (
    id INTEGER PRIMARY KEY,
    animal_id INTEGER NOT NULL REFERENCES animals (id),
    which TEXT NOT NULL DEFAULT '',
    cold INTEGER NOT NULL DEFAULT 0,
    hind INTEGER NOT NULL DEFAULT 0,
    fore INTEGER NOT NULL DEFAULT 0,
    UNIQUE (animal_id, which)
) STRICT;

CREATE TABLE bellies (
    id INTEGER PRIMARY KEY,
    side_id INTEGER NOT NULL UNIQUE REFERENCES sides (id),
    weight INTEGER NOT NULL DEFAULT 0,
    measured INTEGER NOT NULL DEFAULT 0 CHECK (measured IN (0, 1)),
    skin_on INTEGER NOT NULL DEFAULT 0 CHECK (skin_on IN (0, 1))
) STRICT;

CREATE TABLE claims (
    id INTEGER PRIMARY KEY,
    piece TEXT NOT NULL DEFAULT '',
    subject_id INTEGER NOT NULL DEFAULT 0,
    purpose TEXT NOT NULL DEFAULT '',
    class_id INTEGER NOT NULL DEFAULT 0,
    made_at INTEGER NOT NULL DEFAULT 0,
    ended_at INTEGER NOT NULL DEFAULT 0,
    made_by TEXT NOT NULL DEFAULT ''
) STRICT;

CREATE UNIQUE INDEX claims_one ON claims (piece, subject_id) WHERE ended_at = 0;

CREATE TABLE invoices (
    id INTEGER PRIMARY KEY,
    order_id INTEGER NOT NULL REFERENCES orders (id),
    party TEXT NOT NULL DEFAULT '',
    number TEXT NOT NULL DEFAULT '',
    day TEXT,
    basis TEXT NOT NULL DEFAULT '',
    animals INTEGER NOT NULL DEFAULT 0,
    weight INTEGER NOT NULL DEFAULT 0,
    price_cents INTEGER NOT NULL DEFAULT 0,
    meat_cents INTEGER NOT NULL DEFAULT 0,
    haul_cents INTEGER NOT NULL DEFAULT 0,
    other_cents INTEGER NOT NULL DEFAULT 0,
    other_words TEXT NOT NULL DEFAULT '',
    total_cents INTEGER NOT NULL DEFAULT 0,
    typed_at INTEGER NOT NULL DEFAULT 0,
    typed_by TEXT NOT NULL DEFAULT ''
) STRICT;

CREATE INDEX invoices_order ON invoices (order_id);

CREATE TABLE dinner_meats (
    id INTEGER PRIMARY KEY,
    class_id INTEGER NOT NULL REFERENCES classes (id),
    delivery_id INTEGER NOT NULL REFERENCES deliveries (id),
    made_at INTEGER NOT NULL DEFAULT 0,
    ended_at INTEGER NOT NULL DEFAULT 0,
    made_by TEXT NOT NULL DEFAULT ''
) STRICT;

CREATE UNIQUE INDEX dinner_meats_one ON dinner_meats (class_id) WHERE ended_at = 0;

CREATE TABLE slabs (
    id INTEGER PRIMARY KEY,
    tag TEXT NOT NULL UNIQUE,
    class_id INTEGER NOT NULL REFERENCES classes (id),
    number INTEGER NOT NULL DEFAULT 0,
    seat_id INTEGER NOT NULL DEFAULT 0,
    slot INTEGER NOT NULL DEFAULT 0,
    demo INTEGER NOT NULL DEFAULT 0 CHECK (demo IN (0, 1)),
    belly_id INTEGER NOT NULL DEFAULT 0,
    piece INTEGER NOT NULL DEFAULT 0,
    skin_on INTEGER NOT NULL DEFAULT 0 CHECK (skin_on IN (0, 1)),
    planned INTEGER NOT NULL DEFAULT 0,
    green INTEGER NOT NULL DEFAULT 0,
    at_seat INTEGER NOT NULL DEFAULT 0,
    thickness INTEGER NOT NULL DEFAULT 0,
    finished INTEGER NOT NULL DEFAULT 0,
    jar_id INTEGER NOT NULL DEFAULT 0,
    state TEXT NOT NULL DEFAULT '',
    held_from TEXT NOT NULL DEFAULT '',
    sealed_on TEXT,
    unbag_from TEXT,
    smoke_on TEXT,
    ready_on TEXT,
    packed_on TEXT,
    use_by TEXT,
    shelf_at INTEGER NOT NULL DEFAULT 0,
    leaked_at INTEGER NOT NULL DEFAULT 0,
    restarted_at INTEGER NOT NULL DEFAULT 0,
    revision INTEGER NOT NULL DEFAULT 0,
    UNIQUE (class_id, number)
) STRICT;

CREATE UNIQUE INDEX slabs_seat ON slabs (seat_id, slot) WHERE seat_id <> 0 AND state NOT IN ('dumped', 'replaced');

CREATE UNIQUE INDEX slabs_piece ON slabs (belly_id, piece) WHERE belly_id <> 0;

CREATE INDEX slabs_of_seat ON slabs (seat_id, state);

CREATE INDEX slabs_of_belly ON slabs (belly_id);

CREATE INDEX slabs_state ON slabs (state);

CREATE TABLE steps (
    id INTEGER PRIMARY KEY,
    slab_id INTEGER NOT NULL REFERENCES slabs (id),
    from_state TEXT NOT NULL DEFAULT '',
    to_state TEXT NOT NULL DEFAULT '',
    what TEXT NOT NULL DEFAULT '',
    counted INTEGER NOT NULL DEFAULT 0 CHECK (counted IN (0, 1)),
    done_at INTEGER NOT NULL DEFAULT 0,
    received_at INTEGER NOT NULL DEFAULT 0,
    actor TEXT NOT NULL DEFAULT '',
    device TEXT NOT NULL DEFAULT '',
    key TEXT NOT NULL UNIQUE,
    reading TEXT NOT NULL DEFAULT '',
    reason TEXT NOT NULL DEFAULT ''
) STRICT;

CREATE INDEX steps_slab ON steps (slab_id);

CREATE INDEX steps_done ON steps (done_at);

CREATE TABLE recipes (
    id INTEGER PRIMARY KEY,
    code TEXT NOT NULL UNIQUE,
    name TEXT NOT NULL DEFAULT '',
    salt INTEGER NOT NULL DEFAULT 0,
    sugar INTEGER NOT NULL DEFAULT 0,
    cure INTEGER NOT NULL DEFAULT 0,
    skin_share INTEGER NOT NULL DEFAULT 0,
    "limit" INTEGER NOT NULL DEFAULT 0,
    floor INTEGER NOT NULL DEFAULT 0,
    source TEXT NOT NULL DEFAULT '',
    approved_by TEXT NOT NULL DEFAULT '',
    approved_on TEXT
) STRICT;

-- Limits on nitrite as the shop took them over, with source and who approved them.
CREATE TABLE cure_limits (
    id INTEGER PRIMARY KEY,
    code TEXT NOT NULL UNIQUE,
    place TEXT NOT NULL DEFAULT '',
    product TEXT NOT NULL DEFAULT '',
    method TEXT NOT NULL DEFAULT '',
    basis TEXT NOT NULL DEFAULT '',
    counted TEXT NOT NULL DEFAULT '',
    most INTEGER NOT NULL DEFAULT 0,
    least INTEGER NOT NULL DEFAULT 0,
    aim INTEGER NOT NULL DEFAULT 0,
    nitrate INTEGER NOT NULL DEFAULT 0,
    skin_share INTEGER NOT NULL DEFAULT 0,
    skin_source TEXT NOT NULL DEFAULT '',
    skin_read TEXT NOT NULL DEFAULT '',
    also TEXT NOT NULL DEFAULT '',
    source TEXT NOT NULL DEFAULT '',
    read_how TEXT NOT NULL DEFAULT '',
    chosen INTEGER NOT NULL DEFAULT 0 CHECK (chosen IN (0, 1)),
    chosen_by TEXT NOT NULL DEFAULT '',
    chosen_on TEXT,
    approved_by TEXT NOT NULL DEFAULT '',
    approved_with TEXT NOT NULL DEFAULT '',
    approved_why TEXT NOT NULL DEFAULT '',
    approved_on TEXT,
    CHECK (most > 0 AND least BETWEEN 0 AND most AND nitrate >= 0)
) STRICT;

CREATE UNIQUE INDEX cure_limits_chosen ON cure_limits (chosen) WHERE chosen;

CREATE TABLE ingredient_lots (
    id INTEGER PRIMARY KEY,
    ingredient TEXT NOT NULL DEFAULT '',
    code TEXT NOT NULL DEFAULT '',
    supplier TEXT NOT NULL DEFAULT '',
    nitrite INTEGER NOT NULL DEFAULT 0,
    nitrate INTEGER NOT NULL DEFAULT 0,
    opened_on TEXT,
    used_up_on TEXT,
    UNIQUE (ingredient, code),
    CHECK (nitrite BETWEEN 0 AND 1000000 AND nitrate BETWEEN 0 AND 1000000)
) STRICT;

CREATE TABLE jar_lots (
    id INTEGER PRIMARY KEY,
    jar_id INTEGER NOT NULL REFERENCES jars (id),
    lot_id INTEGER NOT NULL REFERENCES ingredient_lots (id),
    from_at INTEGER NOT NULL DEFAULT 0,
    until_at INTEGER NOT NULL DEFAULT 0
) STRICT;

CREATE TABLE scales (
    id INTEGER PRIMARY KEY,
    name TEXT NOT NULL UNIQUE,
    step INTEGER NOT NULL DEFAULT 0,
    CHECK (step > 0)
) STRICT;

CREATE TABLE scale_checks (
    id INTEGER PRIMARY KEY,
    scale_id INTEGER NOT NULL REFERENCES scales (id),
    day TEXT NOT NULL,
    shown INTEGER NOT NULL DEFAULT 0,
    passed INTEGER NOT NULL DEFAULT 0 CHECK (passed IN (0, 1)),
    actor TEXT NOT NULL DEFAULT '',
    at INTEGER NOT NULL DEFAULT 0
) STRICT;

CREATE TABLE cure_tickets (
    id INTEGER PRIMARY KEY,
    slab_id INTEGER NOT NULL REFERENCES slabs (id),
    recipe_id INTEGER NOT NULL REFERENCES recipes (id),
    cure_lot_id INTEGER NOT NULL REFERENCES ingredient_lots (id),
    jar_id INTEGER NOT NULL DEFAULT 0,
    green INTEGER NOT NULL DEFAULT 0,
    basis INTEGER NOT NULL DEFAULT 0,
    salt INTEGER NOT NULL DEFAULT 0,
    sugar INTEGER NOT NULL DEFAULT 0,
    cure INTEGER NOT NULL DEFAULT 0,
    spice INTEGER NOT NULL DEFAULT 0,
    ppm INTEGER NOT NULL DEFAULT 0,
    limit_code TEXT NOT NULL DEFAULT '',
    limit_most INTEGER NOT NULL DEFAULT 0,
    made_at INTEGER NOT NULL DEFAULT 0,
    superseded_at INTEGER NOT NULL DEFAULT 0,
    CHECK (green > 0 AND basis > 0)
) STRICT;

CREATE UNIQUE INDEX cure_tickets_one ON cure_tickets (slab_id) WHERE superseded_at = 0;

CREATE INDEX cure_tickets_slab ON cure_tickets (slab_id);

CREATE TABLE weigh_outs (
    id INTEGER PRIMARY KEY,
    ticket_id INTEGER NOT NULL REFERENCES cure_tickets (id),
    slab_id INTEGER NOT NULL REFERENCES slabs (id),
    scale_id INTEGER NOT NULL REFERENCES scales (id),
    salt INTEGER NOT NULL DEFAULT 0,
    sugar INTEGER NOT NULL DEFAULT 0,
    cure INTEGER NOT NULL DEFAULT 0,
    spice INTEGER NOT NULL DEFAULT 0,
    ppm INTEGER NOT NULL DEFAULT 0,
    passed INTEGER NOT NULL DEFAULT 0 CHECK (passed IN (0, 1)),
    reason TEXT NOT NULL DEFAULT '',
    at INTEGER NOT NULL DEFAULT 0,
    actor TEXT NOT NULL DEFAULT ''
) STRICT;

CREATE INDEX weigh_outs_slab ON weigh_outs (slab_id);

CREATE INDEX weigh_outs_ticket ON weigh_outs (ticket_id);

CREATE INDEX weigh_outs_at ON weigh_outs (at);

CREATE TABLE weigh_out_lots (
    weigh_out_id INTEGER NOT NULL REFERENCES weigh_outs (id),
    lot_id INTEGER NOT NULL REFERENCES ingredient_lots (id),
    PRIMARY KEY (weigh_out_id, lot_id)
) STRICT;

CREATE INDEX weigh_out_lots_lot ON weigh_out_lots (lot_id);

CREATE TABLE rooms (
    id INTEGER PRIMARY KEY,
    code TEXT NOT NULL UNIQUE,
    name TEXT NOT NULL DEFAULT ''
) STRICT;

CREATE TABLE places (
    id INTEGER PRIMARY KEY,
    room_id INTEGER NOT NULL REFERENCES rooms (id),
    kind TEXT NOT NULL DEFAULT '',
    code TEXT NOT NULL UNIQUE,
    bottom INTEGER NOT NULL DEFAULT 0 CHECK (bottom IN (0, 1))
) STRICT;

CREATE TABLE placements (
    id INTEGER PRIMARY KEY,
    place_id INTEGER NOT NULL REFERENCES places (id),
    slab_id INTEGER NOT NULL REFERENCES slabs (id),
    since INTEGER NOT NULL DEFAULT 0,
    until_at INTEGER NOT NULL DEFAULT 0
) STRICT;

CREATE UNIQUE INDEX placements_place ON placements (place_id) WHERE until_at = 0;

CREATE UNIQUE INDEX placements_slab ON placements (slab_id) WHERE until_at = 0;

CREATE INDEX placements_of_slab ON placements (slab_id);

CREATE INDEX placements_of_place ON placements (place_id);

CREATE TABLE smoke_loads (
    id INTEGER PRIMARY KEY,
    day TEXT NOT NULL UNIQUE,
    hooks INTEGER NOT NULL DEFAULT 0,
    house_hooks INTEGER NOT NULL DEFAULT 0,
    state TEXT NOT NULL DEFAULT '',
    why TEXT NOT NULL DEFAULT '',
    chosen TEXT NOT NULL DEFAULT '',
    chosen_by TEXT NOT NULL DEFAULT '',
    chosen_why TEXT NOT NULL DEFAULT '',
    wood TEXT NOT NULL DEFAULT '',
    revision INTEGER NOT NULL DEFAULT 0,
    CHECK (house_hooks BETWEEN 0 AND hooks)
) STRICT;

CREATE TABLE load_slabs (
    load_id INTEGER NOT NULL REFERENCES smoke_loads (id),
    slab_id INTEGER NOT NULL REFERENCES slabs (id),
    place_id INTEGER NOT NULL DEFAULT 0,
    reason TEXT NOT NULL DEFAULT '',
    scanned INTEGER NOT NULL DEFAULT 0 CHECK (scanned IN (0, 1)),
    checked_at INTEGER NOT NULL DEFAULT 0,
    checked_by TEXT NOT NULL DEFAULT '',
    PRIMARY KEY (load_id, slab_id)
) STRICT;

CREATE UNIQUE INDEX load_slabs_hook ON load_slabs (load_id, place_id) WHERE place_id <> 0;

CREATE INDEX load_slabs_slab ON load_slabs (slab_id);

CREATE TABLE smoke_lines (
    id INTEGER PRIMARY KEY,
    load_id INTEGER NOT NULL REFERENCES smoke_loads (id),
    phase TEXT NOT NULL DEFAULT '',
    at INTEGER NOT NULL DEFAULT 0,
    slab_id INTEGER NOT NULL DEFAULT 0,
    house INTEGER,
    core INTEGER,
    actor TEXT NOT NULL DEFAULT '',
    received_at INTEGER NOT NULL DEFAULT 0,
    corrects INTEGER NOT NULL DEFAULT 0,
    reason TEXT NOT NULL DEFAULT ''
) STRICT;

CREATE UNIQUE INDEX smoke_lines_corrects ON smoke_lines (corrects) WHERE corrects <> 0;

CREATE INDEX smoke_lines_load ON smoke_lines (load_id, at);

CREATE TABLE load_answers (
    id INTEGER PRIMARY KEY,
    load_id INTEGER NOT NULL REFERENCES smoke_loads (id),
    outcome TEXT NOT NULL DEFAULT '',
    why TEXT NOT NULL DEFAULT '',
    upto INTEGER NOT NULL DEFAULT 0,
    reason TEXT NOT NULL DEFAULT '',
    actor TEXT NOT NULL DEFAULT '',
    at INTEGER NOT NULL DEFAULT 0
) STRICT;

CREATE TABLE hook_plans (
    day TEXT PRIMARY KEY NOT NULL,
    house_hooks INTEGER NOT NULL DEFAULT 0
) STRICT;

CREATE TABLE probe_readings (
    id INTEGER PRIMARY KEY,
    room_id INTEGER NOT NULL REFERENCES rooms (id),
    at INTEGER NOT NULL DEFAULT 0,
    temp INTEGER NOT NULL DEFAULT 0,
    UNIQUE (room_id, at)
) STRICT;

-- What somebody says of a stretch of a room's log: why readings are missing, what a
-- reading is worth. Readings themselves are never changed.
CREATE TABLE room_notes (
    id INTEGER PRIMARY KEY,
    room_id INTEGER NOT NULL REFERENCES rooms (id),
    from_at INTEGER NOT NULL DEFAULT 0,
    to_at INTEGER NOT NULL DEFAULT 0,
    text TEXT NOT NULL DEFAULT '',
    actor TEXT NOT NULL DEFAULT '',
    at INTEGER NOT NULL DEFAULT 0,
    CHECK (to_at >= from_at)
) STRICT;

CREATE TABLE holds (
    id INTEGER PRIMARY KEY,
    room_id INTEGER NOT NULL DEFAULT 0,
    state TEXT NOT NULL DEFAULT '',
    reason TEXT NOT NULL DEFAULT '',
    opened_at INTEGER NOT NULL DEFAULT 0,
    opened_by TEXT NOT NULL DEFAULT '',
    closed_at INTEGER NOT NULL DEFAULT 0,
    closed_by TEXT NOT NULL DEFAULT '',
    why TEXT NOT NULL DEFAULT ''
) STRICT;

CREATE TABLE hold_slabs (
    hold_id INTEGER NOT NULL REFERENCES holds (id),
    slab_id INTEGER NOT NULL REFERENCES slabs (id),
    PRIMARY KEY (hold_id, slab_id)
) STRICT;

CREATE INDEX hold_slabs_slab ON hold_slabs (slab_id);

-- What a party may choose for a slab that was dumped, and what was made of it (R34). The
-- class is the one whose delivery the meat for curing it again comes out of.
CREATE TABLE amends (
    id INTEGER PRIMARY KEY,
    slab_id INTEGER NOT NULL UNIQUE REFERENCES slabs (id),
    booking_id INTEGER NOT NULL REFERENCES bookings (id),
    choice TEXT NOT NULL DEFAULT '',
    asked_at INTEGER NOT NULL DEFAULT 0,
    chosen_at INTEGER NOT NULL DEFAULT 0,
    chosen_by TEXT NOT NULL DEFAULT '',
    class_id INTEGER NOT NULL DEFAULT 0,
    unsold INTEGER NOT NULL DEFAULT 0 CHECK (unsold IN (0, 1)),
    new_slab_id INTEGER NOT NULL DEFAULT 0,
    cents INTEGER NOT NULL DEFAULT 0,
    done_at INTEGER NOT NULL DEFAULT 0,
    done_by TEXT NOT NULL DEFAULT '',
    note TEXT NOT NULL DEFAULT '',
    CHECK (choice IN ('', 'again', 'class', 'money')),
    CHECK (new_slab_id = 0 OR choice = 'again')
) STRICT;

CREATE INDEX amends_booking ON amends (booking_id);

CREATE UNIQUE INDEX amends_new ON amends (new_slab_id) WHERE new_slab_id <> 0;

-- Slabs whose tags did not come out of the rinse, the pieces found without one, and what
-- was made of them. A piece weighed again is another row; the newest round counts.
CREATE TABLE lost_tags (
    id INTEGER PRIMARY KEY,
    count_in INTEGER NOT NULL DEFAULT 0,
    count_out INTEGER NOT NULL DEFAULT 0,
    opened_at INTEGER NOT NULL DEFAULT 0,
    opened_by TEXT NOT NULL DEFAULT '',
    round INTEGER NOT NULL DEFAULT 0,
    first_by TEXT NOT NULL DEFAULT '',
    first_at INTEGER NOT NULL DEFAULT 0,
    second_by TEXT NOT NULL DEFAULT '',
    closed_at INTEGER NOT NULL DEFAULT 0,
    CHECK (count_out <= count_in),
    CHECK (second_by = '' OR second_by <> first_by)
) STRICT;

CREATE TABLE lost_slabs (
    lost_id INTEGER NOT NULL REFERENCES lost_tags (id),
    slab_id INTEGER NOT NULL REFERENCES slabs (id),
    PRIMARY KEY (lost_id, slab_id)
) STRICT;

CREATE TABLE found_pieces (
    id INTEGER PRIMARY KEY,
    lost_id INTEGER NOT NULL REFERENCES lost_tags (id),
    round INTEGER NOT NULL DEFAULT 0,
    letter TEXT NOT NULL DEFAULT '',
    drained INTEGER NOT NULL DEFAULT 0,
    spice TEXT NOT NULL DEFAULT '',
    way TEXT NOT NULL DEFAULT '',
    reason TEXT NOT NULL DEFAULT '',
    slab_id INTEGER NOT NULL DEFAULT 0,
    actor TEXT NOT NULL DEFAULT '',
    at INTEGER NOT NULL DEFAULT 0,
    UNIQUE (lost_id, round, letter)
) STRICT;

CREATE TABLE slab_candidates (
    slab_id INTEGER NOT NULL REFERENCES slabs (id),
    candidate_id INTEGER NOT NULL REFERENCES slabs (id),
    lost_id INTEGER NOT NULL REFERENCES lost_tags (id),
    PRIMARY KEY (slab_id, candidate_id)
) STRICT;

CREATE TABLE notices (
    id INTEGER PRIMARY KEY,
    key TEXT NOT NULL UNIQUE,
    kind TEXT NOT NULL DEFAULT '',
    state TEXT NOT NULL DEFAULT '',
    to_name TEXT NOT NULL DEFAULT '',
    to_addr TEXT NOT NULL DEFAULT '',
    facts TEXT NOT NULL DEFAULT '',
    subject TEXT NOT NULL DEFAULT '',
    subject_id INTEGER NOT NULL DEFAULT 0,
    urgent INTEGER NOT NULL DEFAULT 0 CHECK (urgent IN (0, 1)),
    due_at INTEGER NOT NULL DEFAULT 0,
    attempts INTEGER NOT NULL DEFAULT 0,
    leased_until INTEGER NOT NULL DEFAULT 0,
    sent_at INTEGER NOT NULL DEFAULT 0,
    last_error TEXT NOT NULL DEFAULT '',
    created_at INTEGER NOT NULL DEFAULT 0
) STRICT;

CREATE INDEX notices_due ON notices (state, due_at);

CREATE INDEX notices_sent ON notices (state, sent_at);

CREATE INDEX notices_subject ON notices (subject, subject_id);

CREATE TABLE entries (
    uid TEXT PRIMARY KEY NOT NULL,
    kind TEXT NOT NULL DEFAULT '',
    subject TEXT NOT NULL DEFAULT '',
    subject_id INTEGER NOT NULL DEFAULT 0,
    starts_at INTEGER NOT NULL DEFAULT 0,
    ends_at INTEGER NOT NULL DEFAULT 0,
    day TEXT,
    title TEXT NOT NULL DEFAULT '',
    text TEXT NOT NULL DEFAULT '',
    cancelled INTEGER NOT NULL DEFAULT 0 CHECK (cancelled IN (0, 1)),
    sequence INTEGER NOT NULL DEFAULT 0,
    changed_at INTEGER NOT NULL DEFAULT 0
) STRICT;

CREATE INDEX entries_subject ON entries (subject, subject_id);

CREATE INDEX entries_kind ON entries (kind);

CREATE TABLE feeds (
    id INTEGER PRIMARY KEY,
    kind TEXT NOT NULL DEFAULT '',
    subject_id INTEGER NOT NULL DEFAULT 0,
    link_no INTEGER NOT NULL DEFAULT 0,
    token_hash TEXT NOT NULL UNIQUE,
    created_at INTEGER NOT NULL DEFAULT 0,
    revoked_at INTEGER NOT NULL DEFAULT 0
) STRICT;

CREATE UNIQUE INDEX feeds_one ON feeds (kind, subject_id) WHERE revoked_at = 0;

CREATE TABLE accounts (
    id INTEGER PRIMARY KEY,
    login TEXT NOT NULL UNIQUE,
    name TEXT NOT NULL DEFAULT '',
    role TEXT NOT NULL DEFAULT '',
    password_hash TEXT NOT NULL DEFAULT '',
    under18 INTEGER NOT NULL DEFAULT 0 CHECK (under18 IN (0, 1)),
    disabled INTEGER NOT NULL DEFAULT 0 CHECK (disabled IN (0, 1)),
    created_at INTEGER NOT NULL DEFAULT 0,
    CHECK (role IN ('owner', 'staff', 'kitchen'))
) STRICT;

CREATE TABLE sessions (
    token TEXT PRIMARY KEY NOT NULL,
    data BLOB NOT NULL,
    expiry INTEGER NOT NULL DEFAULT 0
) STRICT;

CREATE INDEX sessions_expiry ON sessions (expiry);

CREATE TABLE history (
    id INTEGER PRIMARY KEY,
    subject TEXT NOT NULL DEFAULT '',
    subject_id INTEGER NOT NULL DEFAULT 0,
    what TEXT NOT NULL DEFAULT '',
    from_state TEXT NOT NULL DEFAULT '',
    to_state TEXT NOT NULL DEFAULT '',
    actor TEXT NOT NULL DEFAULT '',
    at INTEGER NOT NULL DEFAULT 0,
    detail TEXT NOT NULL DEFAULT ''
) STRICT;

CREATE INDEX history_subject ON history (subject, subject_id);

CREATE TABLE private_offers (
    id INTEGER PRIMARY KEY,
    kind_id INTEGER NOT NULL REFERENCES class_kinds (id),
    name TEXT NOT NULL UNIQUE,
    flat_cents INTEGER NOT NULL DEFAULT 0,
    least INTEGER NOT NULL DEFAULT 0,
    most INTEGER NOT NULL DEFAULT 0,
    words TEXT NOT NULL DEFAULT '',
    CHECK (flat_cents >= 0 AND least >= 1 AND most >= least)
) STRICT;

CREATE TABLE quote_requests (
    id INTEGER PRIMARY KEY,
    offer_id INTEGER NOT NULL REFERENCES private_offers (id),
    day TEXT NOT NULL,
    heads INTEGER NOT NULL DEFAULT 0,
    name TEXT NOT NULL DEFAULT '',
    email TEXT NOT NULL DEFAULT '',
    phone TEXT NOT NULL DEFAULT '',
    words TEXT NOT NULL DEFAULT '',
    state TEXT NOT NULL DEFAULT '',
    booking_id INTEGER NOT NULL DEFAULT 0,
    why TEXT NOT NULL DEFAULT '',
    asked_at INTEGER NOT NULL DEFAULT 0,
    settled_at INTEGER NOT NULL DEFAULT 0,
    settled_by TEXT NOT NULL DEFAULT '',
    CHECK (heads >= 1)
) STRICT;

CREATE INDEX quote_requests_state ON quote_requests (state);

CREATE TABLE reviews (
    id INTEGER PRIMARY KEY,
    guest_id INTEGER NOT NULL UNIQUE REFERENCES guests (id),
    class_mark TEXT NOT NULL DEFAULT '',
    class_words TEXT NOT NULL DEFAULT '',
    bacon_mark TEXT NOT NULL DEFAULT '',
    bacon_words TEXT NOT NULL DEFAULT '',
    at INTEGER NOT NULL DEFAULT 0
) STRICT;

CREATE TABLE repeat_keys (
    key TEXT NOT NULL DEFAULT '',
    route TEXT NOT NULL DEFAULT '',
    actor TEXT NOT NULL DEFAULT '',
    fingerprint TEXT NOT NULL DEFAULT '',
    status INTEGER NOT NULL DEFAULT 0,
    body TEXT NOT NULL DEFAULT '',
    at INTEGER NOT NULL DEFAULT 0,
    PRIMARY KEY (key, route, actor)
) STRICT;

CREATE TABLE dinner_lots (
    id INTEGER PRIMARY KEY,
    class_id INTEGER NOT NULL REFERENCES classes (id),
    lot_id INTEGER NOT NULL REFERENCES ingredient_lots (id),
    made_at INTEGER NOT NULL DEFAULT 0,
    ended_at INTEGER NOT NULL DEFAULT 0,
    made_by TEXT NOT NULL DEFAULT ''
) STRICT;

CREATE UNIQUE INDEX dinner_lots_one ON dinner_lots (class_id, lot_id) WHERE ended_at = 0;

CREATE TABLE bag_uses (
    id INTEGER PRIMARY KEY,
    slab_id INTEGER NOT NULL REFERENCES slabs (id),
    lot_id INTEGER NOT NULL REFERENCES ingredient_lots (id),
    at INTEGER NOT NULL DEFAULT 0,
    actor TEXT NOT NULL DEFAULT ''
) STRICT;

CREATE INDEX bag_uses_slab ON bag_uses (slab_id);

CREATE INDEX bag_uses_lot ON bag_uses (lot_id);

CREATE TABLE recalls (
    id INTEGER PRIMARY KEY,
    handle TEXT NOT NULL UNIQUE,
    name TEXT NOT NULL DEFAULT '',
    reason TEXT NOT NULL DEFAULT '',
    opened_at INTEGER NOT NULL DEFAULT 0,
    opened_by TEXT NOT NULL DEFAULT ''
) STRICT;

CREATE TABLE recall_messages (
    recall_id INTEGER NOT NULL REFERENCES recalls (id),
    booking_id INTEGER NOT NULL REFERENCES bookings (id),
    notice_id INTEGER NOT NULL REFERENCES notices (id),
    PRIMARY KEY (recall_id, booking_id, notice_id)
) STRICT;

CREATE TABLE recall_calls (
    id INTEGER PRIMARY KEY,
    recall_id INTEGER NOT NULL REFERENCES recalls (id),
    booking_id INTEGER NOT NULL REFERENCES bookings (id),
    reached INTEGER NOT NULL DEFAULT 0 CHECK (reached IN (0, 1)),
    words TEXT NOT NULL DEFAULT '',
    at INTEGER NOT NULL DEFAULT 0,
    actor TEXT NOT NULL DEFAULT ''
) STRICT;

CREATE INDEX recall_calls_recall ON recall_calls (recall_id);

CREATE TABLE drills (
    id INTEGER PRIMARY KEY,
    slab_id INTEGER NOT NULL REFERENCES slabs (id),
    asked_at INTEGER NOT NULL DEFAULT 0,
    answered_at INTEGER NOT NULL DEFAULT 0,
    ingredient TEXT NOT NULL DEFAULT '',
    farm_said TEXT NOT NULL DEFAULT '',
    lot_said TEXT NOT NULL DEFAULT '',
    right_answers INTEGER NOT NULL DEFAULT 0,
    found_micros INTEGER NOT NULL DEFAULT 0,
    actor TEXT NOT NULL DEFAULT ''
) STRICT;

CREATE TABLE grinds (
    id INTEGER PRIMARY KEY,
    at INTEGER NOT NULL DEFAULT 0,
    cleaned INTEGER NOT NULL DEFAULT 0 CHECK (cleaned IN (0, 1)),
    weight INTEGER NOT NULL DEFAULT 0,
    product TEXT NOT NULL DEFAULT '',
    note TEXT NOT NULL DEFAULT '',
    corrects INTEGER NOT NULL DEFAULT 0,
    actor TEXT NOT NULL DEFAULT '',
    received_at INTEGER NOT NULL DEFAULT 0
) STRICT;

CREATE INDEX grinds_at ON grinds (at);

CREATE TABLE grind_sources (
    id INTEGER PRIMARY KEY,
    grind_id INTEGER NOT NULL REFERENCES grinds (id),
    material TEXT NOT NULL DEFAULT '',
    establishment TEXT NOT NULL DEFAULT '',
    lot TEXT NOT NULL DEFAULT '',
    made_on TEXT,
    animal_id INTEGER NOT NULL DEFAULT 0
) STRICT;

CREATE INDEX grind_sources_grind ON grind_sources (grind_id);

-- +goose Down

DROP TABLE grind_sources;
DROP TABLE grinds;
DROP TABLE drills;
DROP TABLE recall_calls;
DROP TABLE recall_messages;
DROP TABLE recalls;
DROP TABLE bag_uses;
DROP TABLE dinner_lots;
DROP TABLE repeat_keys;
DROP TABLE reviews;
DROP TABLE quote_requests;
DROP TABLE private_offers;
DROP TABLE history;
DROP TABLE sessions;
DROP TABLE accounts;
DROP TABLE feeds;
DROP TABLE entries;
DROP TABLE notices;
DROP TABLE slab_candidates;
DROP TABLE found_pieces;
DROP TABLE amends;
DROP TABLE lost_slabs;
DROP TABLE lost_tags;
DROP TABLE hold_slabs;
DROP TABLE holds;
DROP TABLE room_notes;
DROP TABLE probe_readings;
DROP TABLE hook_plans;
DROP TABLE load_answers;
DROP TABLE smoke_lines;
DROP TABLE load_slabs;
DROP TABLE smoke_loads;
DROP TABLE placements;
DROP TABLE places;
DROP TABLE rooms;
DROP TABLE weigh_out_lots;
DROP TABLE weigh_outs;
DROP TABLE cure_tickets;
DROP TABLE scale_checks;
DROP TABLE scales;
DROP TABLE jar_lots;
DROP TABLE ingredient_lots;
DROP TABLE cure_limits;
DROP TABLE recipes;
DROP TABLE steps;
DROP TABLE slabs;
DROP TABLE dinner_meats;
DROP TABLE invoices;
DROP TABLE claims;
DROP TABLE bellies;
DROP TABLE sides;
DROP TABLE animals;
DROP TABLE deliveries;
DROP TABLE refunds;
DROP TABLE checkouts;
DROP TABLE ledger_lines;
DROP TABLE ledger_entries;
DROP TABLE payments;
DROP TABLE credits;
DROP TABLE vouchers;
DROP TABLE resales;
DROP TABLE waiting_entries;
DROP TABLE seat_holds;
DROP TABLE picks;
DROP TABLE class_dishes;
DROP TABLE menus;
DROP TABLE dishes;
DROP TABLE jars_away;
DROP TABLE jars;
DROP TABLE seats;
DROP TABLE needs;
DROP TABLE guests;
DROP TABLE bookings;
DROP TABLE closed_days;
DROP TABLE order_lines;
DROP TABLE classes;
DROP TABLE orders;
DROP TABLE outlets;
DROP TABLE cutting_tests;
DROP TABLE yield_profiles;
DROP TABLE farms;
DROP TABLE slots;
DROP TABLE kill_days;
DROP TABLE plant_closures;
DROP TABLE plants;
DROP TABLE prices;
DROP TABLE class_kinds;
DROP TABLE settings;
