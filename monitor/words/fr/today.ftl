# Ce que demande une journée, et ce qui a été fait. Un mot entre {accolades} est mis par le programme.


## today

today-heading = Aujourd’hui, dans cet ordre
today-title = Aujourd’hui
today-all_done = Tout est fait.
today-nothing = Rien n’est à faire aujourd’hui.
today-cool = Rafraîchir
today-water = Arroser
today-dry = Trop humide
today-answer = Est-ce vide ?
today-harvest = Récolter
today-copy = S’occuper d’une copie
today-board = S’occuper d’une carte
today-window = { $place }, attendu { $window }
today-board_look = Elle a besoin d’un coup de main.
today-done = { $what } – { $who }, { $at }
today-was_done = fait : { $what }
today-done_heading = Fait aujourd’hui
today-not_done = Pas fait
today-day = { $day } : ce qui a été fait
today-before = le jour d’avant
today-after = le jour d’après
today-earlier = La liste d’hier
today-none_then = Rien n’a été noté ce jour-là.
today-write = Noter quelque chose
today-no_such = Cette tâche n’est pas sur la liste d’aujourd’hui : rien n’a été coché. Rechargez la page.

## the words on the button of an entry that does a task

task_do-water = Arrosé
task_do-stir = Remué
task_do-spread = Étalé
task_do-feed = Son sec
task_do-bran = Son mélangé
task_do-harvest = Récolté
task_do-saw = Vu
task_do-tick = Fait
task_do-litres = litres
task_do-kilograms = kg
task_do-grams = grammes de larves
task_do-first_flies = Premières mouches
task_do-flies = Mouches comptées
task_do-eggs = Œufs
task_do-move = Déplacé
task_do-start = Nouveau lot
task_do-correct = Corriger
task_do-other = Un autre lot :
