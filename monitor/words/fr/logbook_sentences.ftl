# Ce que refusent le journal et ses commandes. Le nom est la phrase anglaise.

s-800-g-2-kg-1-5-l-or-300-ml =
    800 g, 2 kg, 1.5 l ou 300 ml
s-70-or-0-7 =
    70 % ou 0.7
s-60-x-40-cm-0-24-m2-or-40-cm-round-for-a-bucket =
    60 x 40 cm, 0.24 m2, ou 40 cm round pour un seau
s-8-cm-80-mm-or-0-08-m =
    8 cm, 80 mm ou 0.08 m
s-3-kg-at-12-800-g-12-or-7-l-for-water =
    3 kg at 12 %, 800 g 12 %, ou 7 l pour de l’eau
now-14-30-yesterday-18-00-monday-7-00-8-oct-18-00-8-october-2026-2-hours-ago-2026-11-25-14-30-or-2026-11-25t14-30-02-00 =
    maintenant, 14:30, hier 18:00, lundi 7:00, 8 oct. 18:00, 8 octobre 2026, il y a 2 heures, 2026-11-25 14:30 ou 2026-11-25T14:30+02:00
name-can-be-several-places-write-one-of-places =
    { $name } peut être plusieurs lieux ; écrire l’un de : { $places }
text-date-is-another-day-of-the-week-correct-one-of-the-two =
    { $text } : le { $date } est un autre jour de la semaine ; corriger l’un des deux
s-30-min-2-h-1-h-30-min-or-3-days =
    30 min, 2 h, 1 h 30 min ou 3 days (3 jours)
text-many-or-few-write-many-or-few =
    { $text } : { $many } ou { $few } ? écrire { $many } ou { $few }
text-is-no-whole-number-allowed-such-as-2500-or-10-000 =
    { $text } n’est pas un nombre entier ; permis : par exemple 2500 ou 10 000
text-is-no-part-of-a-sample-allowed-such-as-37-of-50 =
    { $text } n’est pas une part d’un échantillon ; permis : par exemple 37 of 50 (37 sur 50)
text-is-neither-yes-nor-no-allowed-yes-no-on-off =
    { $text } n’est ni oui ni non ; permis : oui, non, on, off
name-reason =
    { $name } : { $reason }
text-is-no-number-allowed-such-as-2500-or-2-5 =
    { $text } n’est pas un nombre ; permis : par exemple 2500 ou 2.5
text-is-no-amount-that-is-understood-allowed-allowed =
    { $text } n’est pas une quantité comprise ; permis : { $allowed }
text-has-no-unit-grams-or-kilograms-allowed-allowed =
    { $text } n’a pas d’unité : grammes ou kilogrammes ? permis : { $allowed }
text-is-nothing-allowed-more-than-0-such-as-examples =
    { $text } ne fait rien ; permis : plus que 0, par exemple { $examples }
text-is-no-moisture-that-is-understood-allowed-allowed =
    { $text } n’est pas une humidité comprise ; permis : { $allowed }
text-cannot-be-a-moisture-allowed-between-0-and-100-such-as-examples =
    { $text } ne peut pas être une humidité ; permis : entre 0 et 100 %, par exemple { $examples }
text-is-a-surface-of-area-m2-allowed-0-001-to-100-m2-such-as-examples =
    { $text } donne une surface de { $area } m2 ; permis : 0.001 à 100 m2, par exemple { $examples }
text-is-no-size-that-is-understood-allowed-allowed =
    { $text } n’est pas une taille comprise ; permis : { $allowed }
text-is-no-depth-that-is-understood-allowed-allowed =
    { $text } n’est pas une profondeur comprise ; permis : { $allowed }
text-is-length-m-allowed-up-to-2-m-such-as-examples =
    { $text } fait { $length } m ; permis : jusqu’à 2 m, par exemple { $examples }
text-is-not-understood-allowed-allowed =
    { $text } n’est pas compris ; permis : { $allowed }
text-says-no-moisture-allowed-allowed =
    { $text } ne dit pas d’humidité ; permis : { $allowed }
text-is-no-time-that-is-understood-allowed-allowed =
    { $text } n’est pas un moment compris ; permis : { $allowed }
text-is-no-length-of-time-allowed-allowed =
    { $text } n’est pas une durée ; permis : { $allowed }
a-number-from-low-to-high =
    un nombre de { $low } à { $high }
a-number-above-low-to-high =
    un nombre au-dessus de { $low } et jusqu’à { $high }
a-whole-number-from-low-to-high =
    un nombre entier de { $low } à { $high }
a-whole-number-above-low-to-high =
    un nombre entier au-dessus de { $low } et jusqu’à { $high }
a-number =
    un nombre
true-or-false =
    true (vrai) ou false (faux)
their-number-above-0 =
    leur nombre, plus que 0
the-name-of-a-cohort =
    le nom d’un lot
none-here-leave-it-out =
    aucun ici ; ne pas le donner
name-is-value-allowed-allowed =
    { $name } vaut { $value } ; permis : { $allowed }
name-is-missing-allowed-allowed =
    { $name } manque ; permis : { $allowed }
kind-is-no-kind-of-entry-allowed-known =
    { $kind } n’est pas une sorte d’entrée ; permis : { $known }
the-size-is-missing-say-it-once-such-as-size-60-x-40-cm =
    la taille manque ; la dire une fois, par exemple --size '60 x 40 cm'
place-cannot-be-filled-allowed-allowed =
    { $place } ne peut pas être rempli ; permis : { $allowed }
it-was-not-filled-before-that-enter-bin-fill-first-with-its-time =
    il n’était pas rempli avant ; noter d’abord le remplissage avec `bin fill` et son heure
it-was-emptied-on-time-and-not-filled-since-enter-bin-fill-first =
    il a été vidé le { $time } et n’est pas rempli depuis ; noter d’abord `bin fill`
it-has-been-filled-since-time-enter-bin-empty-first-or-bin-feed-for-feed-put-on-top =
    il est rempli depuis le { $time } ; noter d’abord `bin empty`, ou `bin feed` pour de la nourriture ajoutée
name-is-no-name-for-a-cohort-allowed-up-to-40-letters-digits-dots-dashes-underscores =
    { $name } n’est pas un nom de lot ; permis : jusqu’à 40 lettres sans accent, chiffres, points, tirets et tirets bas
there-is-a-cohort-name-already-choose-another-name =
    il y a déjà un lot { $name } ; choisir un autre nom
there-is-no-cohort-name-at-that-time-known-then-known =
    il n’y a pas de lot { $name } à ce moment ; connus alors : { $known }
none-yet =
    aucun
name-ended-on-time-how-nothing-can-happen-to-it-after-that =
    { $name } s’est terminé le { $time } ({ $how }) ; rien ne peut lui arriver ensuite
time-is-before-its-start-start =
    { $time } est avant son début ({ $start })
it-has-lived-in-place-since-time-already =
    il vit déjà à cet endroit ({ $place }) depuis le { $time }
it-came-to-place-only-at-time =
    il n’est arrivé à cet endroit ({ $place }) que le { $time }
say-how-many-a-number-of-animals-or-a-share-in-percent-one-of-the-two =
    dire combien : un nombre d’animaux ou une part en pour cent, l’un des deux
percent-is-100-allowed-above-0-and-below-100-to-take-all-move-the-cohort =
    la part est de 100 % ; permis : au-dessus de 0 et au-dessous de 100. Pour tout prendre, déplacer le lot
it-has-about-count-animals-and-taken-of-them-cannot-be-taken-say-a-share =
    il a environ { $count } animaux, et on ne peut pas en prendre { $taken } ; dire une part
its-number-is-not-known-so-say-which-share-was-taken-out-in-percent =
    son nombre n’est pas connu : dire quelle part a été retirée, en pour cent
a-cohort-cannot-be-merged-with-itself =
    un lot ne peut pas être réuni avec lui-même
their-lives-began-days-days-apart-so-their-flies-come-out-days-apart-allowed-up-to-most-days-keep-both-two-cohorts-may-live-in-one-place =
    leurs vies ont commencé à { $days } jours d’écart, leurs mouches sortiront donc à des jours différents ; permis : jusqu’à { $most } jours. Garder les deux : deux lots peuvent vivre au même endroit
it-began-as-stage-so-event-cannot-be-seen-of-it =
    il a commencé comme { $stage } : on ne peut pas y voir { $event }
it-began-as-start-stage-cannot-be-counted-in-it =
    il a commencé comme { $start } ; on ne peut pas y compter { $stage }
event-was-entered-already-for-time-cohort-correct-changes-that-entry =
    { $event } est déjà noté, pour le { $time } ; `cohort correct` change cette entrée
event-on-time-cannot-come-after-other-which-was-seen-on-other-time =
    { $event } le { $time } ne peut pas venir après { $other }, vu le { $other_time }
flies-were-entered-for-time-already-cohort-correct-changes-that-entry =
    des mouches sont déjà notées pour le { $time } ; `cohort correct` change cette entrée
time-lies-ahead-now-now-allowed-times-that-are-past =
    { $time } est à venir (maintenant : { $now }) ; permis : des moments passés
time-is-past-a-planned-move-lies-ahead-for-a-move-that-was-made-leave-planned-out =
    { $time } est passé ; un déplacement prévu est à venir. Pour un déplacement déjà fait, ne pas dire --planned
subject-reason-nothing-was-written =
    { $subject } : { $reason }. Rien n’est écrit
subject-then-entries-nothing-was-written =
    { $subject } : alors { $entries }. Rien n’est écrit
entry-number-kind-of-other-time-could-not-be-reason =
    l’entrée { $number } ({ $kind } de { $other }, { $time }) ne pourrait plus être : { $reason }
cohorts-lives-in-it-already-are-these-its-larvae-say-so-cohort-first-did-they-come-on-top-give-them-a-name-cohort-start-name-place-stage-larva =
    { $cohorts } y vit déjà ; si ce sont ses larves, le dire : --cohort { $first }. Si elles sont venues en plus, leur donner un nom : `cohort start NAME { $place } --stage larva`
cohorts-live-in-it-say-whose-larvae-they-are-cohort-first =
    { $cohorts } y vivent ; dire de qui sont les larves : --cohort { $first }
cohort-has-known-animals-so-count-of-it-cannot-be-put-in-where-it-was-counted-wrong-enter-the-right-number-first-cohort-count-cohort-animals-number =
    { $cohort } a { $known } animaux, on ne peut pas en mettre { $count } ; s’il a été mal compté, noter d’abord le bon nombre : `cohort count { $cohort } --animals NUMBER`
cohort-does-not-live-in-it-so-it-cannot-stay =
    { $cohort } n’y vit pas, donc ne peut pas y rester
place-its-said-larvae-have-become-the-cohort-cohorts-if-they-are-those-of-another-or-for-a-better-name-bin-correct-entry-cohort-name =
    { $place } : ses { $said } larves sont devenues le lot { $cohorts }. Si elles sont d’un autre, ou pour un meilleur nom : `bin correct { $entry } --cohort NAME`
place-cohorts-had-no-number-so-the-said-larvae-of-the-filling-count-now-to-put-it-right-command =
    { $place } : { $cohorts } n’avait pas de nombre, les { $said } larves du remplissage comptent donc maintenant. Pour corriger : `{ $command }`
place-the-filling-said-said-larvae-and-its-cohorts-cohorts-counted-animals-counted-count-now-to-put-it-right-command =
    { $place } : le remplissage disait { $said } larves et ses lots ({ $cohorts }) { $counted } animaux ; { $counted } comptent maintenant. Pour corriger : `{ $command }`
names-of-cohorts =
    des noms de lots
the-logbook-has-no-entry-number-about-a-subject-command-lists-the-numbers =
    le journal n’a pas d’entrée { $number } sur un { $subject } ; `{ $command }` donne les numéros
cohort =
    lot
bin =
    bac
entry-number-was-corrected-already-by-entry-newer-correct-that-one-nothing-was-written =
    l’entrée { $number } est déjà corrigée par l’entrée { $newer } ; corriger celle-là. Rien n’est écrit
entry-number-withdraws-another-enter-anew-what-was-withdrawn =
    l’entrée { $number } en retire une autre du compte ; noter à nouveau ce qui a été retiré
entry-number-kind-cannot-be-corrected-here =
    l’entrée { $number } ({ $kind }) ne peut pas être corrigée ici
the-logbook-has-no-entry-number-nothing-was-written =
    le journal n’a pas d’entrée { $number } ; rien n’est écrit
entry-number-is-about-old-not-about-new-nothing-was-written =
    l’entrée { $number } parle de { $old }, non de { $new } ; rien n’est écrit
the-bin-bin =
    bac { $bin }
the-cohort-cohort =
    lot { $cohort }
the-place-place =
    emplacement { $place }
the-board-node =
    carte { $node }
first-and-second-allowed-in-the-first-line-known =
    { $first }, et { $second } ; permis dans la première ligne : { $known }
problem-allowed-in-the-first-line-known =
    { $problem } ; permis dans la première ligne : { $known }
the-columns-columns-are-missing =
    ces colonnes manquent : { $columns }
the-columns-columns-are-not-known =
    ces colonnes sont inconnues : { $columns }
it-has-more-cells-than-the-first-line-has-names =
    elle a plus de cases que la première ligne n’a de noms
columns-is-empty =
    { $columns } est vide
subject-reason =
    { $subject } : { $reason }
entry-number-could-then-not-be-reason =
    l’entrée { $number } ne pourrait alors plus être : { $reason }
file-is-not-utf-8-text-save-it-as-csv-in-utf-8 =
    { $file } n’est pas du texte UTF-8 ; l’enregistrer en CSV, UTF-8
file-cannot-be-read-why =
    { $file } ne peut pas être lu : { $why }
file-cannot-be-written-why =
    { $file } ne peut pas être écrit : { $why }
name-is-no-place-in-the-settings-known-known =
    { $name } n’est pas un lieu des réglages ; connus : { $known }
name-is-no-place-in-the-settings-do-you-mean-near =
    { $name } n’est pas un lieu des réglages ; vouliez-vous dire « { $near } » ?
place-is-a-kind-which-is-not-filled-allowed-allowed =
    { $place } est un lieu qui ne se remplit pas ({ $kind }) ; permis : { $allowed }
there-is-no-cohort-name-cohort-list-all-shows-every-one =
    il n’y a pas de lot { $name } ; `cohort list --all` les montre tous
there-is-no-cohort-name-do-you-mean-near =
    il n’y a pas de lot { $name } ; vouliez-vous dire « { $near } » ?
give-what-is-right-a-time-with-at-or-both-or-withdraw-alone =
    donner ce qui est juste, une heure avec --at, ou les deux ; ou bien --withdraw seul
that-is-water-alone-say-the-dry-material-too-allowed =
    c’est de l’eau seule ; dire aussi la matière sèche : { $allowed }
age-needs-the-number-of-larvae-larvae-number-or-cohort-name =
    --age demande le nombre de larves : --larvae NOMBRE, ou --cohort NOM
the-box-alone-box-is-as-heavy-as-the-whole-whole-check-the-two-weights =
    la caisse seule ({ $box }) est aussi lourde que le tout ({ $whole }) ; vérifier les deux poids
what-cannot-be-a-value-of-kind-bin-kind-help-shows-what-can =
    { $what } ne peut pas être une valeur de `{ $kind }` ; `bin { $kind } --help` montre lesquelles le peuvent
what-is-more-than-one-value-quote-what-has-spaces =
    { $what } fait plus d’une valeur ; mettre entre guillemets ce qui contient des espaces
give-one-of-a-moisture-wet-with-dry-or-squeeze =
    donner une de ces choses : une humidité, --wet avec --dry, ou --squeeze
wet-and-dry-belong-together-a-handful-before-and-after-the-oven =
    --wet et --dry vont ensemble : une poignée avant et après le four
dry-dry-is-not-below-wet-wet-a-handful-loses-weight-in-the-oven =
    sec ({ $dry }) n’est pas moins que mouillé ({ $wet }) ; une poignée perd du poids au four
place-is-not-filled-there-is-nothing-to-draw =
    { $place } n’est pas rempli ; il n’y a rien à dessiner
until-must-lie-after-at-and-not-ahead-nothing-was-written =
    --until doit venir après --at et ne pas être à venir ; rien n’est écrit
give-one-of-animals-flies-and-eggs =
    donner une seule de ces options : --animals, --flies, --eggs
the-stage-of-cohort-is-not-known-now-say-it-with-stage =
    le stade de { $cohort } n’est pas connu maintenant ; le dire avec --stage
set-change-is-not-understood-allowed-key-value-such-as-animals-3000 =
    --set { $change } n’est pas compris ; permis : CLÉ=VALEUR, par exemple animals=3000
from-15-minutes-to-hours-hours =
    de 15 minutes à { $hours } heures
minutes-minutes-is-no-time-for-which-it-can-be-put-aside-allowed-allowed =
    { $minutes } minutes : ce n’est pas une durée pour mettre de côté ; permis : { $allowed }
name-is-not-in-the-settings-known-known =
    { $name } n’est pas dans les réglages ; connus : { $known }
nothing-was-written =
    rien n’est écrit
subject-no-place-is-without-animals-by-that-so-none-is-empty-nothing-was-written =
    { $subject } : aucun lieu n’est sans animaux d’après cela, donc aucun n’est vide. Rien n’est écrit
odd-nothing-was-written-if-it-is-empty-all-the-same-say-so-sure =
    { $odd }
    Rien n’est écrit. Si c’est tout de même vide, le dire : --sure
what-is-neither-the-number-of-an-entry-nor-an-import-logbook-list-shows-both =
    { $what } n’est ni le numéro d’une entrée ni un carnet lu ; `logbook list` montre les deux
reasons-nothing-was-written =
    { $reasons }
    Rien n’est écrit
questions-nothing-was-written-if-it-is-right-all-the-same-say-so-sure =
    { $questions }
    Rien n’est écrit. Si c’est juste malgré tout, le dire : --sure
number-what-and-known-animals-are-known-of-they-do-not-become-more =
    { $number } { $what }, et on connaît { $known } animaux ; leur nombre n’augmente pas
kg-kg-weighed-and-held-kg-at-most-are-in-it-by-the-book-nothing-becomes-heavier-where-water-or-feed-was-put-in-enter-that-first =
    { $kg } kg pesés, et { $held } kg au plus y sont d’après le journal ; rien ne devient plus lourd. Si de l’eau ou de l’aliment y a été mis, le noter d’abord
kg-kg-taken-out-and-held-kg-at-most-are-in-it-by-the-book =
    { $kg } kg sortis, et { $held } kg au plus y sont d’après le journal
what-days-days-after-stage-even-at-the-best-temperature-that-takes-about-fastest-days =
    { $what } { $days } jours après ({ $stage }) : même à la meilleure température il faut environ { $fastest } jours
flies = des mouches
eggs = des œufs
animals = animaux
kg-kg-weighed-and-held-kg-were-put-in-so-little-of-it-is-left =
    { $kg } kg pesés, et { $held } kg y ont été mis ; en reste-t-il si peu ?
that-was-days-days-ago = c’était il y a { $days } jours
grams-g-of-eggs-are-about-count-animals-up-to-most-g-at-once-are-usual =
    { $grams } g d’œufs font environ { $count } animaux ; jusqu’à { $most } g à la fois est habituel
count-larvae-on-surface-m-are-each-on-each-cm-up-to-most-are-believable =
    { $count } larves sur { $surface } m² font { $each } par cm² ; jusqu’à { $most } est croyable
grams-g-of-eggs-weigh-more-than-the-flies-flies-that-laid-them-where-there-are-more-enter-their-number-first =
    { $grams } g d’œufs pèsent plus que les { $flies } mouches qui les ont pondus ; s’il y en a plus, noter d’abord leur nombre
grams-g-of-count-animals-are-each-mg-each-up-to-most-mg-are-known =
    { $grams } g de { $count } animaux font { $each } mg chacun ; on connaît jusqu’à { $most } mg
kg-kg-on-surface-m-would-stand-depth-cm-deep-even-as-heavy-as-water-usual-cm-are-usual-most-cm-are-the-most =
    { $kg } kg sur { $surface } m² feraient { $depth } cm de haut, même aussi lourds que l’eau ; { $usual } cm est habituel, { $most } cm le plus
kg-litres-into-held-kg-would-make-it-percent-water-up-to-most-are-believable =
    { $kg } litres dans { $held } kg en feraient { $percent } % d’eau ; jusqu’à { $most } % est croyable
value-key-is-times-times-the-usual-usual =
    { $value } { $key } est { $times } fois l’habituel, { $usual }
grams-g-of-eggs-from-flies-flies-if-all-were-females-they-would-lay-most-g =
    { $grams } g d’œufs de { $flies } mouches ; si toutes étaient des femelles elles pondraient { $most } g
the-logbook-has-no-entry-number-logbook-list-lists-them =
    le journal n’a pas d’entrée { $number } ; `logbook list` les montre
no-entry-of-run-counts-logbook-list-shows-the-imports =
    aucune entrée de { $run } ne compte ; `logbook list` montre les carnets lus
place-is-no-love-cage-allowed-allowed =
    { $place } n’est pas une cage de ponte ; permis : { $allowed }
cohort-began-as-stage-so-no-eggs-are-added-to-it =
    { $cohort } a commencé comme { $stage } : on n’y ajoute pas d’œufs
their-number-or-their-weight-in-grams =
    leur nombre, ou leur poids en grammes
say-in-which-tray-they-hatch-trays =
    dire dans quel bac ils éclosent : { $trays }
any-text =
    un texte
a-share-or-a-weight-is-said-of-hatch-alone-not-of-event =
    une part ou un poids ne se dit que de `hatch`, pas de { $event }
dead-flies =
    mouches mortes
grams-g-of-dead-flies-and-flies-flies-are-known-of-more-than-they-weigh =
    { $grams } g de mouches mortes, et on en connaît { $flies } : plus qu’elles ne pèsent
grams-g-of-eggs-from-a-cage-that-holds-flies-flies-more-than-they-weigh-meant-g =
    { $grams } g d’œufs d’une cage qui contient { $flies } mouches : plus qu’elles ne pèsent ; { $meant } g ?
grams-g-of-eggs-out-of-one-cage-up-to-most-g-at-once-are-usual-meant-g =
    { $grams } g d’œufs d’une seule cage ; jusqu’à { $most } g en une fois sont habituels ; { $meant } g ?
kg-kg-of-mean-mg-each-are-count-larvae-and-known-are-known-of =
    { $kg } kg à { $mean } mg chacune font { $count } larves, et on en connaît { $known }
kg-kg-taken-out-and-held-kg-at-most-are-in-it-by-the-book-meant-kg =
    { $kg } kg retirés, et d’après le journal il y a au plus { $held } kg dedans ; { $meant } kg ?
mean-mg-each-on-the-mean-up-to-most-mg-are-known =
    { $mean } mg chacune en moyenne ; on connaît jusqu’à { $most } mg
no-cohort-of-eggs-is-in-place-set-eggs-to-hatch-there-first-eggs-cage-amount-to-place-or-cohort-start-name-place-stage-egg =
    aucun lot d’œufs n’est dans { $place } ; y mettre d’abord des œufs à éclore : `eggs CAGE AMOUNT --to { $place }`, ou `cohort start NAME { $place } --stage egg`
several-cohorts-of-eggs-are-in-place-say-which-cohorts =
    plusieurs lots d’œufs sont dans { $place } ; dire lequel : { $cohorts }
sold-and-to-do-not-go-together-enter-what-was-sold-and-what-was-set-apart =
    --sold et --to ne vont pas ensemble ; noter à part ce qui est vendu et ce qui est mis à éclore
the-same-was-entered-as-entry-number-already-once-more =
    la même chose est déjà notée à l’entrée { $number } ; encore une fois ?
young-g-of-young-larvae-from-eggs-g-of-eggs-they-weigh-about-what-their-eggs-did =
    { $young } g de jeunes larves pour { $eggs } g d’œufs : elles pèsent à peu près ce que pesaient leurs œufs
file-ends-in-neither-html-nor-csv =
    { $file } ne finit ni par .html ni par .csv
write-the-cohort-of-eggs-in-place-that-hatched-there-are-cohorts =
    écrire le lot d’œufs de { $place } qui a éclos ; il y a : { $cohorts }
what-days-days-after-stage-of-which-percent-were-behind-them-even-at-the-best-temperature-the-rest-takes-about-fastest-days =
    { $what } { $days } jours après ({ $stage }), dont { $percent } % étaient déjà passés : même à la meilleure température, le reste prend environ { $fastest } jours
day-cannot-be-promised-allowed-is-today-first-to-last =
    { $day } ne peut pas être promis : permis d’aujourd’hui ({ $first }) au { $last }
