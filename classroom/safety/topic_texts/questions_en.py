"""The questions of each safety topic, in English: our own words, one right answer each."""

from __future__ import annotations

from typing import Final

from .shapes import Question

QUESTIONS: Final[dict[str, tuple[Question, ...]]] = {
    "saw-frame": (
        Question(
            "When do you put your eye protection on?",
            "Before the blade is strung",
            ("When the first cut is done", "Only when a blade has snapped"),
            "A blade can snap while you tighten it, not only while you saw.",
        ),
        Question(
            "Which way do the teeth of the blade point?",
            "Toward you and down to the handle",
            ("Away from you and up", "It makes no difference"),
            "The saw cuts on the way down, so the teeth point down to the handle.",
        ),
        Question(
            "How do you know that the blade is tight enough?",
            "It rings when you pluck it",
            ("It bends a little when you press it", "It cannot be moved at all by pliers"),
            "A slack blade wanders and snaps. A tight one gives a clear note.",
        ),
        Question(
            "You come near the end of a cut. What do you do?",
            "Press less, so that the blade does not jump out",
            ("Press harder to get it done", "Bend the piece off by hand"),
            "The blade breaks through suddenly there and can run into a finger.",
        ),
        Question(
            "Where does a broken blade go?",
            "Into the blade box",
            ("Into the bin", "Onto the floor, to be swept up later"),
            "Pieces of blade are as sharp as needles; the box keeps them off other people's hands.",
        ),
    ),
    "drill-press": (
        Question(
            "How is thin sheet held while you drill it?",
            "Clamped over a block of wood",
            ("With both hands", "With one hand in a glove"),
            "Thin sheet can grab the drill and spin round. A hand cannot hold it.",
        ),
        Question(
            "Why are gloves not worn at the drill press?",
            "They can be caught and wound in with the hand",
            ("They make the metal dirty", "They are too warm"),
            "Anything loose can wind round the drill: gloves, sleeves, hair, lanyards.",
        ),
        Question(
            "What do you do with the chuck key before you switch on?",
            "Take it out of the chuck",
            ("Leave it in, so that it is at hand", "Turn it the other way round"),
            "A key left in the chuck flies off when the machine starts.",
        ),
        Question(
            "There are chips on the table. How do you get them off?",
            "With a brush, after the drill stands still",
            ("By blowing them away", "With a finger, while the drill runs down"),
            "Chips are sharp and fly into eyes; a drill that runs down still turns.",
        ),
        Question(
            "Why do you dent the mark with a centre punch?",
            "So that the drill starts where you want it",
            ("To make the sheet thinner", "To test how loud the metal is"),
            "Without the dent the drill slides about and can snap.",
        ),
    ),
    "hand-shears": (
        Question(
            "What do you look at before you close the blades?",
            "Where both of your hands are",
            ("What time it is", "Whether the shears are new"),
            "Shears cut a finger as easily as metal, so know where every finger is.",
        ),
        Question(
            "How many people work at the bench shears at once?",
            "One",
            ("Two, one at the lever and one at the sheet", "As many as have room"),
            "Whoever moves the lever must be the one whose hands are near the blades.",
        ),
        Question(
            "You are done with the bench shears. What comes next?",
            "Lock the lever",
            ("Leave the lever up for the next person", "Let the lever drop"),
            "A lever that falls closes the blades by itself.",
        ),
        Question(
            "A strip has just been cut. How do you treat its edges?",
            "As sharp, until they are filed",
            ("As smooth, because shears do not saw", "They need no care if the strip is short"),
            "Fresh edges and corners cut skin. File them before you pass the metal on.",
        ),
    ),
    "foot-guillotine": (
        Question(
            "Where are your hands while the blade comes down?",
            "Both behind the guard",
            ("One on the strip that is cut off", "Under the holding bar"),
            "The blade is faster than a hand; behind the guard it cannot reach one.",
        ),
        Question(
            "When do you take your foot off the pedal?",
            "Before you reach for the parts",
            ("After you have taken the parts out", "Only at the end of the lesson"),
            "A foot that stays on the pedal brings the blade down on a hand.",
        ),
        Question(
            "A friend wants to hold the sheet while you press the pedal. What do you say?",
            "No: one person works at it",
            ("Yes, then it goes faster", "Yes, if the sheet is large"),
            "Whoever presses the pedal cannot watch somebody else's fingers.",
        ),
        Question(
            "What must never go under the blade?",
            "Wire, rod or hardened steel",
            ("Copper sheet", "Brass sheet"),
            "They chip the blade, and pieces of it fly.",
        ),
    ),
    "abrasives-dust": (
        Question(
            "How do you clean dust from the bench?",
            "Wipe it up with a damp cloth",
            ("Blow it away", "Use compressed air"),
            "Dust that flies gets into lungs and eyes. Damp dust stays in the cloth.",
        ),
        Question(
            "What do you do before you eat or touch your face?",
            "Wash your hands",
            ("Wipe your hands on your clothes", "Nothing, if you wore eye protection"),
            "Metal dust on hands and clothes travels to your mouth and eyes.",
        ),
        Question(
            "Why is aluminium dust kept apart from iron and steel dust?",
            "Together, or near a flame, it can burn fiercely",
            ("It changes the colour of the steel", "It is worth more money"),
            "Fine aluminium dust can burn, and iron dust with sparks makes that more likely.",
        ),
        Question(
            "How fast do you rub on the block?",
            "Slowly enough that no dust flies",
            ("As fast as you can", "Fast at first, to save paper"),
            "Slow, even strokes wear the metal just as well and keep the dust down.",
        ),
    ),
    "adhesives-solvents": (
        Question(
            "Which adhesive do you use when nobody has said otherwise?",
            "The water-based one",
            ("The one that smells strongest", "Whichever bottle is open"),
            "Water-based adhesive gives off no vapour that burns.",
        ),
        Question(
            "What must not be in the room while acetone is open?",
            "A flame, torch, spark or hot plate",
            ("A window that is open", "A wet cloth"),
            "The vapour is heavier than air, creeps along tables and floor, and catches fire.",
        ),
        Question(
            "A small bottle has no label. What do you do?",
            "Do not use it, and take it to the teacher",
            ("Smell it to find out what it is", "Pour it into a bigger bottle"),
            "Every bottle needs a label with its name and hazards, however small it is.",
        ),
        Question(
            "Where do you read what a product can do to you?",
            "On its safety data sheet and its label",
            ("On the price tag", "Nowhere: it is secret"),
            "The safety data sheet of every product in use is kept within reach.",
        ),
        Question(
            "You have taken the drops that you need. What comes first now?",
            "Close the lid",
            ("Spread the drops with a finger", "Leave it open for the next student"),
            "An open bottle fills the room with vapour and can be knocked over.",
        ),
    ),
    "hot-water-soak": (
        Question(
            "How warm is the water?",
            "About as warm as a bath",
            ("So hot that it steams", "Boiling"),
            "Steaming water scalds. Warm water takes the paper off as well.",
        ),
        Question(
            "Some water has run onto the floor. What do you do?",
            "Wipe it up at once",
            ("Let it dry", "Wait until the end of the lesson"),
            "Somebody with a saw frame in hand may slip on it.",
        ),
        Question(
            "How do you take a sawn piece out of the bowl?",
            "By its flat sides, looking where the edges are",
            ("By feeling for its edges", "By tipping the bowl over the table"),
            "Edges cut under water just as they do in air, and wet skin cuts more easily.",
        ),
        Question(
            "Where does the bowl stand?",
            "Away from plugs and machines",
            ("Beside the drill press", "On top of a machine that is switched off"),
            "Water and electricity do not go together.",
        ),
    ),
    "files-sharp-edges": (
        Question(
            "The file has lost its handle. What do you do?",
            "Do not use it; take another and tell the teacher",
            ("Wrap a cloth round the end", "Hold it by the end and file gently"),
            "The pointed end can be driven into your palm.",
        ),
        Question(
            "When does a file cut?",
            "When you push it",
            ("When you pull it back", "Both ways, if you press hard"),
            "Lift it on the way back, or its teeth go blunt.",
        ),
        Question(
            "When do you take the burr off a piece?",
            "Before it goes from hand to hand",
            ("When the piece is handed in", "Only if somebody complains"),
            "Burrs are fine and sharp: the next person who takes the piece gets cut.",
        ),
        Question(
            "How do you clean the teeth of a file?",
            "With its brush",
            ("With your fingers", "By blowing into them"),
            "The chips between the teeth are sharp and fly into eyes.",
        ),
        Question(
            "Where do offcuts with raw edges go?",
            "Into the box for them",
            ("Into a pocket", "Into your school bag"),
            "In a pocket or a bag they cut the next hand that reaches in.",
        ),
    ),
}
