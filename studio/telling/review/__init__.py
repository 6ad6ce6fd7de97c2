"""Looking back: where did the metal and the money go, and what is to be learnt from it?"""
