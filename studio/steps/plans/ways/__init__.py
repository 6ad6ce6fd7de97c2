"""What a plan would come to if its students came by their metal in another way, and the choice.

ask      which ways are worked out, and what the engine is asked for each
lease    who may work on one right now
choose   another way takes the plan's place
"""
