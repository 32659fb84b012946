"""Phrases inside the sentences that the book, the live rooms and the scale keep in English, marked for the catalogues.

Names between braces stand for whatever is said in their place; with a form (`:d`, `:.1f`) for a number only.
"""

from kiosk.bar.messages import Message

PHRASES = (
    # in flags, advice, complaints and notes
    Message("slow"), Message("fast"), Message("slower"), Message("faster"), Message("finer"), Message("coarser"), Message("early"),
    Message("late"), Message("dose"), Message("first drop"), Message("yield"), Message("grinder"), Message("drink"), Message("person"),
    Message("single"), Message("double"), Message("One notch"), Message("{notches} notches"), Message(" ({collar})"),
    Message("{grinder} at {setting:d}"), Message("2 × {drink}"), Message("{one} + {other}"),
    Message("{coffee}, {basket}: {sentence}"), Message("{s:.1f} s {side}"),
    Message("groups and screens"),                     # in notes of older books
    # in the flags of older books
    Message("{where} has moved: the last {many} pulls ran {now:.1f} s {way} than those before."),
    Message("{where} has moved: the last pull ran {now:.1f} s {way} than those before."),
    # why a pull went into the sink
    Message("gushed"), Message("choked"), Message("spilt"), Message("wrong drink"), Message("tastes off"), Message("tastes wrong"),
    Message("binned"), Message("tasted at opening"),
    # why a line of the scale was refused
    Message("the scale says that it is overloaded; take something off"),
    Message("the scale says that it is below its range; set its plate right, then tare"),
    Message("the scale reports a fault; switch it off and on"),
    Message("longer than {bytes:d} bytes; the bit rate may be wrong"),
    Message("not plain text; the bit rate or the parity may be wrong"), Message("no number in it"),
    Message("more than {kg:d} kg; not believed"),
    Message("more than one number; set a pattern that says which is the weight"),
    Message("more than one unit; set a pattern that says which to take"),
    Message("its unit is none of g, kg, mg, oz, lb; switch the scale to grams"),
    Message("it tells the tare, not what stands on the scale"), Message("not a shape that is known; set a pattern for it"),
    Message("not what the station's pattern describes"),
)
