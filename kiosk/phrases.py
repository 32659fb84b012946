"""Phrases inside the sentences that the book, the live rooms and the scale keep in English, marked for the catalogues.

Names between braces stand for whatever is said in their place; with a form (`:d`, `:.1f`) for a number only.
"""

from kiosk.bar.messages import Said

PHRASES = (
    # in flags, advice, complaints and notes
    Said("slow"), Said("fast"), Said("slower"), Said("faster"), Said("finer"), Said("coarser"), Said("early"),
    Said("late"), Said("dose"), Said("first drop"), Said("yield"), Said("grinder"), Said("drink"), Said("person"),
    Said("single"), Said("double"), Said("One notch"), Said("{notches} notches"), Said(" ({collar})"),
    Said("{grinder} at {setting:d}"), Said("2 × {drink}"), Said("{one} + {other}"),
    Said("{coffee}, {basket}: {sentence}"), Said("{s:.1f} s {side}"),
    # why a pull went into the sink
    Said("gushed"), Said("choked"), Said("spilt"), Said("wrong drink"), Said("tastes wrong"),
    Said("binned"), Said("tasted at opening"),
    # why a line of the scale was refused
    Said("the scale says that it is overloaded; take something off"),
    Said("the scale says that it is below its range; set its plate right, then tare"),
    Said("the scale reports a fault; switch it off and on"),
    Said("longer than {bytes:d} bytes; the bit rate may be wrong"),
    Said("not plain text; the bit rate or the parity may be wrong"), Said("no number in it"),
    Said("more than {kg:d} kg; not believed"),
    Said("more than one number; set a pattern that says which is the weight"),
    Said("more than one unit; set a pattern that says which to take"),
    Said("its unit is none of g, kg, mg, oz, lb; switch the scale to grams"),
    Said("it tells the tare, not what stands on the scale"), Said("not a shape that is known; set a pattern for it"),
    Said("not what the station's pattern describes"),
)
