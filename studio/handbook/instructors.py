"""What instructors and directors look up."""

from __future__ import annotations

from studio.handbook.task import Task

FOR_INSTRUCTORS: tuple[Task, ...] = (
    Task(
        "assign-a-tune",
        "Assign a tune",
        "One plan of steps for one or several ensembles, on their desks at once.",
        (
            "*Assign it* on the tune's page, or *Assign a tune* under [Assignments](work:assignments).",
            "Tick the ensembles. The steps chosen stand below; *Add a step* has the rest, the arrows change their order.",
            "Give the first date; *The others* spreads the rest by one rhythm. A date can be changed by hand.",
            "*Assign it*. The questions and their key are made now: later edits of the chart regrade nobody.",
        ),
        (
            "*As last time* takes over the steps of the last assignment of that tune.",
            "How near answers have to be is chosen there; [the marking table](work:marking-rules) says what each rule does.",
        ),
        ("work:assign", "work:assignments", "work:edit"),
        teaches=True,
    ),
    Task(
        "before-the-date",
        "See who has not begun, and remind them",
        "Before the date, not after it.",
        (
            "Open the assignment: *Not begun* names the players, ticked.",
            "*Remind these* sends each a notice. *Undo* takes it back.",
            "*Write to them instead* opens a message to those players.",
        ),
        ("Whoever was reminded in the last three days is not ticked again.",),
        ("work:assignment",),
        teaches=True,
    ),
    Task(
        "review",
        "Review what was handed in",
        "The [queue](work:queue) has the oldest first, sheets under their step, with how far the ensemble is.",
        (
            "Open a sheet: the answers stand in the form. What was missed is boxed, what was right in part has a tray.",
            "Press a chord for the reason; *Give another mark* or accept the answer for everyone who wrote it.",
            "Write at the bar what there is to say, then *Reviewed*; or *For another go*.",
        ),
        (
            "Sheets that need nothing can be ticked in the queue and reviewed together: *Reviewed, all ticked*.",
            "Arrows go from sheet to sheet, Ctrl and Enter says reviewed; *Keys* lists them all.",
        ),
        ("work:queue", "work:sheet", "work:ensemble-sheet"),
        teaches=True,
    ),
    Task(
        "answer-a-question",
        "Answer a question on a mark or a reading",
        "Players question what they hear otherwise, at its bar.",
        (
            "*Questions* in the [queue](work:queue) lists them with the bar and what was asked.",
            (
                "Write your answer, and choose what comes of it: it stays, the answer counts for everyone who wrote it, or the "
                "reading is to be overruled: the chart opens at that chord next."
            ),
        ),
        ("Question and answer both stay: on the sheet, or at the chord. The player is told.",),
        ("work:objection", "work:reading-answer"),
        teaches=True,
    ),
    Task(
        "one-player",
        "Give one player a later date, or an excuse",
        "For one player and one step, or all that are not done.",
        (
            "Open the assignment and choose *For one player: a later date, an excuse*.",
            "Choose player and step, give the date or tick the excuse, and say why: only instructors read that.",
            "*Give it*. Desk, queue and ledger follow; the player is told, without the reason.",
        ),
        ("An excuse is no evidence: a tune that counts as learned still needs the step.",),
        ("work:leeway",),
        teaches=True,
    ),
    Task(
        "sign-off",
        "Sign a tune off",
        "In person, on evidence that you name.",
        (
            "Open the assignment, and *Sign off* beside its step.",
            "Tick who played, and write on what evidence: one line for everyone ticked.",
            "*Sign off those ticked*. *Take back* undoes one.",
        ),
        ("What a player has not done yet is said beside the name: your signature does not do the other steps.",),
        ("work:sign-off",),
        teaches=True,
    ),
    Task(
        "ledger",
        "Read the ledger",
        "Who knows what, from evidence: players by tunes, a small sign for each step.",
        (
            "Choose the ensemble: the [ledger](work:ledger) opens on the one in use.",
            "Press a cell, or go there with the arrows and press Enter: its signs in words, and *Everything on record*.",
            "*By tune* turns the page round. *CSV* takes all of it away.",
        ),
        (
            "Five short strokes that fill as a step goes on join into one line when the tune is learned. A red diamond is late.",
            "What a tune asks for is the programme's rule; the director changes it.",
        ),
        ("work:ledger", "work:player", "work:evidence", "work:known"),
        teaches=True,
    ),
    Task(
        "type-a-chart",
        "Type a chart",
        "As text, with the drawing beside it and every problem at its bar.",
        (
            "On the tune's page: *Type a chart*, or *edit* at the agreed one.",
            "Bars stand between | signs, chords share their bar evenly. *How to write a chart* has all signs.",
            "Say where the changes come from, and *Save the chart*. Nothing counts until then; the draft is kept.",
        ),
        ("A lead sheet as MusicXML can be read in: *Import a lead sheet*.",),
        ("tunes:chart_new", "tunes:chart_edit", "tunes:lead-sheet-import"),
        teaches=True,
    ),
    Task(
        "overrule",
        "Overrule what the chart is read as",
        "Your reading stands beside the computed one, for everybody.",
        (
            "Press the function under a chord (or the name of a key area below).",
            "Open *Overrule this label*, and say key, function, and why.",
            "Choose whether it holds every time the bar sounds or this once, and press *Overrule*.",
        ),
        ("Running assignments keep their key; each offers to mark again after showing whose mark would change.",),
        ("tunes:event", "tunes:area", "work:mark-again"),
        teaches=True,
    ),
    Task(
        "name-a-progression",
        "Name a progression",
        "From the bars of a chart; the class decides what it is called.",
        (
            "Below the chart press *Choose bars and name what they do*.",
            "Press the first bar, then the last; or drag; or move with the arrows and hold Shift.",
            "Choose what counts and what is left loose: each choice says how many other places it finds.",
            "Write the name, and *Name it*.",
        ),
        (
            "A name that a player proposes comes as a notice; it opens with the bars and the name filled in.",
            "Whoever likes the text form types it: *Name an idiom* under [Idioms](tunes:idioms).",
        ),
        ("tunes:naming", "tunes:idioms", "tunes:idiom_new", "tunes:idiom_edit"),
        teaches=True,
    ),
    Task(
        "recordings",
        "Add a recording and map its form",
        "So that bars can be looped and the number goes along.",
        (
            "On the tune's page *Add a recording*; choose the reference among them.",
            "Add the sound file on the same form, if the programme may keep it; otherwise it stays a link.",
            "Play, press T at the top of a chorus and S at a section: the map is made.",
        ),
        (),
        ("tunes:recording_new", "tunes:recording-upload", "tunes:recording"),
        teaches=True,
    ),
    Task(
        "packs",
        "Print a pack for every chair",
        "One drill for the whole ensemble, each in its own pitch and clef.",
        (
            "Under [Packs](drills:packs), or *Make a pack* beside a tune under [Drills](drills:index).",
            "Choose the drill, and which chairs get the chart alone (drums do, unless you say otherwise).",
            "*Make the pack*: fetch it as one file, or part by part.",
        ),
        (),
        ("drills:packs", "drills:pack_new", "drills:pack"),
        teaches=True,
    ),
    Task(
        "set-list",
        "Make a set list",
        "The tunes of a date in order, with key and tempo, and who knows which.",
        (
            "Open the ensemble under [Ensembles](studio:ensembles), then *Set lists*.",
            "*Add a tune*; give the key and tempo of the day.",
            "*Cards to print* prints all of them; *Make the packs* makes the parts in one press.",
        ),
        (),
        ("work:set-lists", "work:set-list"),
        teaches=True,
    ),
    Task(
        "message",
        "Write to an ensemble",
        "In the app at once, whole in the daily letter, and kept.",
        (
            "Open the ensemble under [Ensembles](studio:ensembles), then *Write to them*.",
            "Leave everybody ticked or choose some, write plainly, and *Send*.",
        ),
        ("Players cannot answer here.",),
        ("studio:message_new",),
        teaches=True,
    ),
    Task(
        "plan",
        "Plan the repertoire of a term",
        "Tunes in their order, with the day they should be known by.",
        (
            "Open the [plan](work:plan) of the ensemble.",
            "Add a tune and a day. Beside each stand what is undone and which of its progressions the players know.",
            "*Assign it* turns a line of the plan into an assignment.",
        ),
        (),
        ("work:plan",),
        teaches=True,
    ),
    Task(
        "new-term",
        "Begin a new term from the last one",
        "On one page, seen before anything is made.",
        (
            "Under [Terms and ensembles](studio:terms): *New term from the last one*.",
            "Give its name and days, and tick what goes on: ensembles with chairs and leaders, plan, assignments.",
            "*Look at it first*, then *Make the term*. Dates move by whole weeks.",
        ),
        ("The old term stays readable. Directors only.",),
        ("work:new-term", "studio:terms"),
        teaches=True,
    ),
    Task(
        "roster",
        "Bring people in from a file",
        "One row for each chair: name, e-mail, ensemble, instrument.",
        (
            "Under [People](studio:people), *Roster from a file*: choose it, or paste the rows.",
            "*Check the roster*: you see what would happen, and what to correct. Nothing is written yet.",
            "*Write the roster*. Invitations can go out by mail, or as links to hand over.",
        ),
        ("A school's OneRoster package is read too. Directors only.",),
        ("studio:roster", "studio:people"),
        teaches=True,
    ),
    Task(
        "substitute",
        "Name a substitute for some days",
        "Who leads the ensemble between two dates, and has no rights outside them.",
        (
            "Open the ensemble under [Ensembles](studio:ensembles), then *People*.",
            "Under *A substitute for some days* choose the person and both days, and *Name the substitute*.",
        ),
        ("*End it now* takes it back at once.",),
        ("studio:ensemble",),
        teaches=True,
    ),
    Task(
        "course-platform",
        "Open assignments from a course page",
        "The school's course system and this site know each other by addresses, once; marks go back when they are reviewed and released.",
        (
            "A director opens [Course platforms](api:lti-platforms), copies the addresses there into the course system, fills in what it tells, and *Register it*.",
            "In the course, whoever leads an ensemble adds a link to this site and presses *Choose* at an assignment.",
            "The course's page here lists every mark that was sent, and what the course system answered; *Show the members* looks at them as a roster.",
        ),
        ("Only people who are here already are let in. A director signs in here first.",),
        ("api:lti-platforms", "api:lti-platform", "api:lti-course", "api:lti-choose"),
        teaches=True,
    ),
)
