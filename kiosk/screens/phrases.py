"""What the rooms that speak English say without a full stop, or put into their sentences: marked for the catalogues.

Names between braces stand for whatever is said in their place; with a form (`:d`, `:.1f`) for a number only.
"""

from kiosk.screens.words import N_

PHRASES = (
    # in flags, advice, complaints and notes
    N_("slow"), N_("fast"), N_("slower"), N_("faster"), N_("finer"), N_("coarser"), N_("early"), N_("late"),
    N_("dose"), N_("first drop"), N_("yield"), N_("grinder"), N_("drink"), N_("person"), N_("single"), N_("double"),
    N_("One notch"), N_("{notches} notches"), N_(" ({collar})"), N_("{grinder} at {setting:d}"), N_("2 × {drink}"),
    N_("{one} + {other}"), N_("{coffee}, {basket}: {sentence}"), N_("most of them short"), N_("most of them over"),
    N_("some short, some over"), N_("gushed"), N_("choked"), N_("spilt"), N_("wrong drink"), N_("tastes wrong"),
    # the day
    N_("Monday"), N_("Tuesday"), N_("Wednesday"), N_("Thursday"), N_("Friday"), N_("Saturday"), N_("Sunday"),
    N_("January"), N_("February"), N_("March"), N_("April"), N_("May"), N_("June"), N_("July"), N_("August"),
    N_("September"), N_("October"), N_("November"), N_("December"), N_("{weekday} {day:d} {month} {year:d}"),
    N_("No pulls on {day}."), N_("No pulls on {day}, {grams:.0f} g purged."),
    N_("One pull, into the sink"), N_("One pull, not timed"), N_("One pull, in its window"),
    N_("One pull, outside its window"),
    N_("{n:d} pulls, all of them into the sink"), N_("{n:d} pulls, none of them timed"),
    N_("{n:d} pulls, all in their window"),
    N_("{n:d} pulls, {good:d} of {judged:d} in their window ({share:.0f} %)"),
    N_("too few to tell drift"), N_("no drift to tell on {grinder}"), N_("no drift to tell on any grinder"),
    N_("{grinder} ran {s:.1f} s {way} each hour"), N_("{grinder} ran {s:.1f} s {way} each hour and was moved {often}"),
    N_("{grinder} was moved {often}"), N_("once"), N_("twice"), N_("{n:d} times"),
    N_("{grams:.0f} g of coffee was lost, most of it in purges"),
    N_("{grams:.0f} g of coffee was lost, most of it in sink shots"),
    N_("{grams:.0f} g of coffee was lost, most of it in heavy doses"),
    # when, and how far off
    N_("spread through the day"), N_("{share} of them from {since} to {until}"),
    N_("{share} of them from {since} to {until} on {day}"), N_("all"),
    N_("its last {pulls:d} pulls ran {s:.1f} s {side}"), N_("{s:.1f} s {side}"),
    # the evening's figures
    N_("Hands"), N_("Waste"), N_("Service"), N_("Noted"), N_("Pulls"), N_("In their window"), N_("Start tomorrow at"),
    N_("Drift, notches taken out"), N_("Drift in notches"), N_("A notch is worth"), N_("Doses outside their tolerance"),
    N_("not known: it takes a move with three pulls before it and three after"),
    N_("At {setting:d}, {since} to {until}: pulls"), N_("At {setting:d}, {since} to {until}: even time"),
    N_("At {setting:d}, {since} to {until}: spread"), N_("At {setting:d}, {since} to {until}: drift"),
    N_("{hour}, in window"), N_("{when} moved"), N_("{when} flag"), N_("{name}: pulls"), N_("{name}: doses spread by"),
    N_("{name}: times spread by, the grinder's part taken out"), N_("{name}: pulls with a step left out"),
    N_("fewer than {least:d} to tell it by"), N_("{value:d} of {all:d} ({share:.0f} %)"),
    N_("{value:d} of {all:d} ({share:.0f} %); {words}"), N_("{value:d}; {words}"), N_("{value:d} of {all:d}"),
    N_("{value:.2f} s an hour ({low:.2f} to {high:.2f})"), N_("{value:.2f} notches an hour ({low:.2f} to {high:.2f})"),
    N_("{value:.1f} s ({low:.1f} to {high:.1f})"), N_("{before:d} to {after:d}"),
    N_("{before:d} to {after:d}, by {name}"),
    N_("Purges"), N_("Sink shots"), N_("Over the dose's limit"), N_("Lost in all"), N_("{waste}, what it cost"),
    N_("{grams:.1f} g; {assumed:d} not weighed: the recipe's dose was taken"),
    # what is due
    N_("Check the scale with a known weight"), N_("Read the room's temperature and humidity"),
    N_("Clean groups and screens"), N_("{coffee} was roasted more than five weeks ago"),
    # why a line of the scale was refused
    N_("the scale says that it is overloaded; take something off"),
    N_("the scale says that it is below its range; set its plate right, then tare"),
    N_("the scale reports a fault; switch it off and on"), N_("longer than {bytes:d} bytes; the bit rate may be wrong"),
    N_("not plain text; the bit rate or the parity may be wrong"), N_("no number in it"),
    N_("more than {kg:d} kg; not believed"),
    N_("more than one number; set a pattern that says which is the weight"),
    N_("more than one unit; set a pattern that says which to take"),
    N_("its unit is none of g, kg, mg, oz, lb; switch the scale to grams"),
    N_("it tells the tare, not what stands on the scale"), N_("not a shape that is known; set a pattern for it"),
    N_("not what the station's pattern describes"),
)
