"""What players look up."""

from __future__ import annotations

from studio.handbook.task import Task

HEALTH = "Warm up, take breaks, keep it soft enough to talk over, and stop when something hurts: general information, not medical advice."

FOR_PLAYERS: tuple[Task, ...] = (
    Task(
        "today",
        "Work through your plan for today",
        "The [desk](work:desk) says what to hear, sing, answer, play and bring back, in the minutes you have.",
        (
            "Choose 10, 20 or 40 minutes. The plan changes at once and the choice is remembered.",
            "Press *Begin*: it opens the first thing. Each line also opens its own.",
            "Come back to the desk after each. What was heard today, answered or sung is asked again tomorrow at the earliest.",
        ),
        (
            "*Why these* gives the rule behind every line; *Leave something out* lets one go until tomorrow.",
            "A day missed costs nothing. What was overdue is never dropped from the plan, however few minutes you choose.",
            (
                "*Asked of you* has a line for every assignment, overdue first. Its signs: a dot for not asked, dotted for to do, "
                "thin for begun, half for handed in, full for done; a red diamond is late. "
                "*in words* says them all."
            ),
        ),
        ("work:desk",),
    ),
    Task(
        "answer-a-quiz",
        "Answer a quiz",
        "Function of every chord, key areas, form, notes: what you write is saved field by field.",
        (
            "Open the step from your [desk](work:desk).",
            "Write each answer as you would say it: 2, ii7, 5 of 2. Below the field stands how it was understood.",
            "Enter or Tab goes to the next field. *Keypad* has all you need without a keyboard.",
            "*Hand in* when you are through. Fields left blank are named first.",
        ),
        (
            "“Saved” means the server has it. Without a connection it is kept on this device and goes on its way later.",
            (
                "When marks and answers may be seen, each answer shows its points and the reason. What you see otherwise you can "
                "question there: *Question this*, say what you hear and why, *Ask your instructor*. The answer comes to your "
                "[notices](studio:notices) and stays at the bar."
            ),
            "How near an answer has to be stands in [the marking table](work:marking-rules).",
        ),
        ("work:attempt", "work:start"),
    ),
    Task(
        "question-a-reading",
        "Question the reading of a chord",
        "The functions on a chart are read by rules. Your ear may know better.",
        (
            "On the tune's page press the function under the chord: the reading opens with its reason.",
            "Press *Question this reading* and say what you hear there, and why.",
            "The answer comes to your [notices](studio:notices) and stays with the chord.",
        ),
        ("If your instructor agrees, the chart is overruled there, for everybody.",),
        ("work:reading-question",),
    ),
    Task(
        "hear-a-recording",
        "Hear a recording and log it",
        "A tune is learned from recordings first; the reference is the one whose changes count.",
        (
            "Open the tune, then *To hear, and your log*.",
            "Play it: *Speed* slows it down and keeps the pitch. With a form map the bar number goes along.",
            "What you heard through is logged; a record at home is logged by hand in the step, *Log it*.",
        ),
        (
            "Listen at a level at which you could still talk over it, and rest your ears: general information, not medical advice.",
        ),
        ("tunes:recordings", "tunes:recording", "tunes:listening-log"),
    ),
    Task(
        "read-a-chart",
        "Read a chart and its landing line",
        "Chords in your own pitch, what each does, and where each run of them is heading.",
        (
            "Choose instrument and key above the chart: every note of the page follows.",
            "The line under the bars stands as high as there are resolutions still to come; at the dot it has landed.",
            "Solid arrows are dominants going down a fifth, dashed ones down a semitone; a bracket is a ii–V.",
            "Press a function to read why it is so, and what else was considered. Arrow keys go from chord to chord.",
        ),
        (
            "Bars are counted as played; a repeated bar says its other number beside it.",
            "While a quiz on the tune is open to you, its functions stay closed.",
        ),
        ("tunes:tune", "tunes:version", "tunes:revision"),
    ),
    Task(
        "find-a-progression",
        "Find where else a progression comes",
        "What you have learned in one tune stands in others.",
        (
            "Below the chart press *Choose bars: where else does this come?*",
            "Press the first bar, then the last; or drag; or move with the arrows and hold Shift.",
            "Beside the chart it is said in words, with how many other places it finds, and which.",
        ),
        (
            "Does the class have a name for it? Type it and *Propose it*: your instructors are told, and you hear when it is given.",
        ),
        ("tunes:naming", "tunes:idioms", "tunes:idiom"),
    ),
    Task(
        "changes-by-ear",
        "Take the changes down by ear",
        "The form empty, the recording beside it, and nothing told before you ask.",
        (
            "On the tune's page choose *Take down the changes by ear*, or open the step that asks for it.",
            "Play, loop the bar you are in (Alt and P), and write its chords.",
            "When you have all you hear, *Compare with the class's chart*.",
        ),
        ("Begin with the bass: its own row is enough for a first time through.",),
        ("tunes:by-ear-start", "tunes:by-ear"),
    ),
    Task(
        "melody-by-ear",
        "Learn a melody by ear",
        "Phrase by phrase from the reference, without being shown.",
        (
            "On the tune's page choose *The melody by phrase*.",
            "Tap a phrase: it plays over and over. *leave room to answer* leaves a gap as long as the phrase.",
            "Sing or play it back, then write its notes and check them.",
        ),
        ("When every phrase is right, all of it is hidden and asked again from memory after days.",),
        ("work:melody", "tunes:melody-map"),
    ),
    Task(
        "test-yourself",
        "Test yourself",
        "Any quiz that the site can build, whenever you like. It counts nowhere.",
        (
            "*Test me, 2 minutes* on the desk mixes your tunes; [Test me](work:test-me) asks what you choose.",
            "Choose a tune and bars, what you missed in the last month, or one progression wherever it stands.",
            "*What each note is* asks the notes of a solo that you wrote down or may read, its chord beside each.",
            "What you miss becomes part of your plan; what is right settles it.",
        ),
        ("*By heart*: the empty form in a key that is called, chords or numbers, from memory.",),
        ("work:test-me", "work:own-quiz"),
    ),
    Task(
        "play-a-drill",
        "Make a drill and practise it",
        "Arpeggios, guide tones, scales through the whole form, in your clef and transposition.",
        (
            "Choose a tune under [Drills](drills:index), then *Change what to practise*, and *Make the drill*.",
            "Play it on the page, or take it away as PDF, MusicXML or MIDI.",
            "Note the tempo that held: the practice plan goes on from there.",
        ),
        (HEALTH,),
        ("drills:index", "drills:drill", "drills:practice"),
    ),
    Task(
        "play-with-the-band",
        "Play with the band",
        "Bass, piano and drums for every chart, in the style and tempo you choose.",
        (
            "On the tune's page press *Play with the band*.",
            "Choose style, tempo and count-in; untick what you play yourself.",
            "*Press a chorus to change its key, its tempo or who is silent in it.*",
        ),
        (HEALTH,),
        ("drills:band",),
    ),
    Task(
        "hear-the-other-band",
        "Play on when the band plays other changes",
        "One chorus goes another way, as in a jam session; you say where it was, and what was played.",
        (
            "Under *The other band* choose how much differs and how many choruses, then *Draw a round*.",
            "Play through it. Afterwards tick the bars that differed; their chords, and the note a line comes in on, count too.",
            "*Say it, then show me* shows the chorus as the band had it. What you missed comes back in your plan.",
        ),
        (HEALTH,),
        ("drills:other_band",),
    ),
    Task(
        "changes-at-a-keyboard",
        "Play the changes at a keyboard",
        "Whatever you play otherwise: each chord on a MIDI keyboard or on the keys of the page.",
        (
            "A right chord leads to the next one; the page says what an other one was against the chart.",
            "*Play* lets the band run: then you play in time. *See it all and note it* keeps how it went.",
            "The drill on two staves shows voicings that lead smoothly, to be heard and printed.",
        ),
        (HEALTH,),
        ("drills:keyboard",),
    ),
    Task(
        "carry-a-line",
        "Take a line from a solo everywhere",
        "What somebody found in a solo, carried to every place with the same chords.",
        (
            "Under [Lines](drills:lines) look for one by name, function or its notes, or cut one from a solo.",
            "Its page shows every place where it fits, in your pitch; open one to hear and to practise it.",
            "In all twelve keys each key comes back when it is due.",
        ),
        (HEALTH,),
        ("drills:lines", "drills:line"),
    ),
    Task(
        "keep-a-tune-in-the-head",
        "Keep a tune in the head",
        "The memory sheet: the form, and numbers by section instead of chords.",
        (
            "Say the numbers of a section, then look. A section that comes again stands there once.",
            "Below stand the bars where another band may go another way.",
        ),
        (),
        ("tunes:memory-sheet",),
    ),
    Task(
        "record-a-take",
        "Record a take and hand it in",
        "On the page of what you play: a drill, the band, a line, a melody.",
        (
            "*Record a take*, *Open the microphone*, and *Test, two seconds* for the level.",
            "Record as often as you like; takes stay on this device until you press *Choose this one*.",
            "In the hand-in step choose it under *A take*.",
        ),
        (
            "Only you hear a take until you hand it in; then who leads the ensemble hears it too. Your takes are under [Takes](drills:takes).",
            HEALTH,
        ),
        ("drills:takes", "drills:take"),
    ),
    Task(
        "write-a-solo-down",
        "Write a solo down",
        "On staves of four bars under the changes, the recording beside them.",
        (
            "On the tune's page open *Solos written out*, and begin one: which recording, which bars.",
            "Loop a bar at half speed, sing it, write it: by keyboard, with the pad, or with a MIDI keyboard.",
            "Every bar shows whether its beats add up; nothing refuses to be saved. *Done* opens it to be read.",
        ),
        ("*Tap the notes* places them on bars and beats as guesses. Nobody sees a solo until you share it.",),
        ("tunes:solos", "tunes:solo-new", "tunes:solo-write", "tunes:solo"),
    ),
    Task(
        "your-tunes",
        "See what you know",
        "[Your tunes](work:my-tunes) stands on evidence: what was heard, answered, signed off.",
        (
            "Each tune has a sign for every step your programme asks for; when all are done they join into one line.",
            "Press a tune to read the evidence, with dates.",
            "*Your progress in pictures* shows tempo over weeks and keys of twelve.",
        ),
        ("You are compared with your own past, and with nobody else.",),
        ("work:my-tunes", "work:progress"),
    ),
    Task(
        "dates-in-your-calendar",
        "Have due dates in your calendar",
        "Your calendar program can show what is due, run-throughs and set lists, and keep them up to date.",
        (
            "Open [Calendar addresses](api:calendars) and choose whose dates.",
            "*Make the address* and copy it at once: it cannot be shown again.",
            "In the calendar program add it as a calendar by address.",
        ),
        ("Whoever has the address can read it. *End it* if others have it.",),
        ("api:calendars",),
    ),
)
